"""The predictors a forecast is compared with: hand-worked cases, scikit-learn, no foresight."""

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import approx_fprime
from sklearn.linear_model import LogisticRegression

from gradebook.analytics.metrics import brier
from gradebook.analytics.predictors.boosting import boosting
from gradebook.analytics.predictors.history import read_history
from gradebook.analytics.predictors.logistic import SHARED_RIDGE, fit_logistic
from gradebook.analytics.predictors.simple import (
    base_rate,
    last_grade,
    last_three,
    practice_factors,
)
from gradebook.analytics.predictors.tracing import (
    Tracing,
    fit_tracing,
    knowledge_tracing,
    trace,
)
from gradebook.analytics.worlds.flights import Size
from gradebook.analytics.worlds.simulation import simulate

ALL = [base_rate, last_grade, last_three, knowledge_tracing, practice_factors, boosting]
every_predictor = pytest.mark.parametrize("predict", ALL)


def table(*rows):
    """A grade table of rows (student, task, lesson, grade), all by one instructor."""
    frame = pd.DataFrame(rows, columns=["student", "task", "lesson", "grade"])
    frame = frame.astype({"student": str, "task": str, "lesson": int, "grade": int})
    return frame.assign(instructor="I", flown_on="")


def predict_all_train(predict, frame):
    meets = frame["grade"].to_numpy() >= 3
    return predict(frame, meets, np.ones(len(frame), dtype=bool))


@pytest.fixture(scope="module")
def school():
    world = simulate("B", Size(students=16, tasks=4, instructors=2, lessons=8), seed=3)
    train = world.flights.student < 12
    return world.grades, world.meets, train


# History


def test_history_counts_only_earlier_lessons():
    frame = table(("s", "t", 2, 4), ("s", "t", 1, 1), ("s", "t", 1, 3), ("s", "t", 3, 2))
    history = read_history(frame)
    assert history.on_task.count.tolist() == [2, 0, 0, 3]
    assert history.on_task.total(history.grade).tolist() == [4, 0, 0, 8]
    np.testing.assert_equal(history.on_task.last(history.grade), [3, np.nan, np.nan, 4])
    np.testing.assert_equal(history.on_task.mean(history.grade, 2), [2, np.nan, np.nan, 3.5])


def test_history_keeps_tasks_and_students_apart():
    frame = table(("s", "t", 1, 4), ("s", "u", 2, 1), ("r", "t", 2, 3), ("s", "t", 2, 3))
    history = read_history(frame)
    assert history.on_task.count.tolist() == [0, 0, 0, 1]
    assert history.at_all.count.tolist() == [0, 1, 0, 1]


def test_lessons_that_are_words_are_in_order_of_date():
    frame = table(("s", "t", 1, 4), ("s", "t", 2, 1)).assign(
        lesson=["night", "circuit"], flown_on=["2031-05-02", "2031-05-01"]
    )
    assert read_history(frame).on_task.count.tolist() == [1, 0]


# What every predictor owes


@every_predictor
@pytest.mark.parametrize("rows", [0, 1, 2])
def test_few_rows_have_forecasts(predict, rows):
    frame = table(("s", "t", 1, 4), ("r", "t", 1, 1)).iloc[:rows]
    said = predict_all_train(predict, frame)
    assert said.shape == (rows,)
    assert ((said >= 0) & (said <= 1)).all()


@every_predictor
def test_nothing_to_learn_from_still_forecasts(predict, school):
    frame, meets, train = school
    said = predict(frame, meets, np.zeros_like(train))
    assert ((said > 0) & (said < 1)).all()


@every_predictor
def test_a_task_nobody_was_seen_at_still_has_a_forecast(predict, school):
    frame, meets, train = school
    said = predict(frame, meets, train & (frame["task"] != "T002").to_numpy())
    assert ((said > 0) & (said < 1)).all()


@every_predictor
def test_forecasts_do_not_see_their_lesson_or_what_follows(predict, school):
    frame, meets, train = school
    late = ~train & (frame["lesson"] >= 5).to_numpy()
    other = frame.assign(grade=frame["grade"].where(~late, 5 - frame["grade"]))
    before = predict(frame, meets, train)
    after = predict(other, (other["grade"] >= 3).to_numpy(), train)
    until = (frame["lesson"] <= 5).to_numpy()
    assert np.array_equal(before[until], after[until])


@every_predictor
def test_held_out_students_teach_nothing(predict, school):
    frame, meets, train = school
    other = frame.assign(grade=frame["grade"].where(train, 5 - frame["grade"]))
    before = predict(frame, meets, train)
    after = predict(other, (other["grade"] >= 3).to_numpy(), train)
    assert np.array_equal(before[train], after[train])


@every_predictor
def test_the_order_of_rows_does_not_matter(predict, school):
    frame, meets, train = school
    order = np.random.default_rng(0).permutation(len(frame))
    said = predict(frame.iloc[order], meets[order], train[order])
    assert said == pytest.approx(predict(frame, meets, train)[order], abs=1e-3)


@pytest.mark.parametrize("predict", ALL[1:])
def test_a_history_tells_more_than_the_base_rate(predict, school):
    frame, meets, train = school
    ours, rate = predict(frame, meets, train)[~train], base_rate(frame, meets, train)[~train]
    assert brier(meets[~train], ours) < brier(meets[~train], rate)


# Each alone


def test_base_rate_by_hand():
    # overall (1 + 1) / (4 + 2); task t (1 + 2/3) / (3 + 2), task u (0 + 2/3) / (1 + 2)
    frame = table(("a", "t", 1, 4), ("b", "t", 1, 1), ("c", "t", 1, 1), ("a", "u", 1, 1))
    assert predict_all_train(base_rate, frame) == pytest.approx([1 / 3, 1 / 3, 1 / 3, 2 / 9])


def test_last_grade_by_hand():
    # three rows without a last grade, one met; one after a 4, met; overall (2 + 1) / (4 + 2)
    frame = table(("a", "t", 1, 4), ("a", "t", 2, 3), ("b", "t", 1, 1), ("c", "t", 1, 1))
    said = predict_all_train(last_grade, frame)
    assert said == pytest.approx([(1 + 1) / 5, (1 + 1) / 3, (1 + 1) / 5, (1 + 1) / 5])


def test_better_last_grades_promise_more(school):
    frame, meets, train = school
    said, mean = last_three(frame, meets, train), read_history(frame).on_task
    grade = mean.mean(frame["grade"].to_numpy(float), 3)
    known = ~np.isnan(grade)
    assert np.corrcoef(said[known], grade[known])[0, 1] > 0.95


def test_logistic_agrees_with_scikit_learn():
    rng = np.random.default_rng(1)
    features = np.column_stack([np.ones(300), rng.normal(size=(300, 2))])
    meets = rng.random(300) < 1 / (1 + np.exp(-features @ [0.3, 1.0, -0.5]))
    # one group: the shared and own coefficients of a feature share its weight
    ridge = 1 / (1 / SHARED_RIDGE + 1 / 2.0)
    theirs = LogisticRegression(C=1 / ridge, fit_intercept=False, tol=1e-10).fit(
        features, meets
    )
    group = np.zeros(300, dtype=int)
    ours = fit_logistic(features, group, meets, 1, ridge=2.0).forecast(features, group)
    assert ours == pytest.approx(theirs.predict_proba(features)[:, 1], abs=1e-4)


def test_a_group_of_few_rows_stays_near_the_others():
    features, group = np.ones((202, 1)), np.array([0] * 200 + [1] * 2)
    meets = np.arange(202) % 2 == 0
    meets[200:] = True
    said = fit_logistic(features, group, meets, 2).forecast(features, group)
    assert 0.5 < said[200] < 0.8


def test_tracing_by_the_published_equations():
    # known .3, learnt .15, guess .2, slip .1, outcomes 0 1 1 1; the same by pyBKT 1.4.3
    found = trace(np.array([[0, 1, 1, 1]]), Tracing(0.3, 0.15, 0.2, 0.1))
    assert found.forecast[0] == pytest.approx([0.41, 0.335254, 0.613630, 0.820664], abs=5e-7)
    likely = np.array([1 - 0.41, 0.335254, 0.613630, 0.820664])
    assert found.loss == pytest.approx(-np.log(likely).sum(), abs=1e-5)


def test_the_slope_of_tracing_is_that_of_its_loss():
    outcomes = np.random.default_rng(2).integers(0, 2, (20, 6))
    outcomes[5:, 4:] = -1
    at = np.array([0.3, 0.2, 0.25, 0.15])
    numeric = approx_fprime(at, lambda values: trace(outcomes, Tracing(*values)).loss, 1e-7)
    assert trace(outcomes, Tracing(*at)).slope == pytest.approx(numeric, rel=1e-4)


def test_tracing_finds_the_model_that_made_the_outcomes():
    rng, truth = np.random.default_rng(4), Tracing(0.2, 0.25, 0.15, 0.1)
    known = rng.random(3000) < truth.known
    outcomes = np.empty((3000, 8), dtype=int)
    for at in range(8):
        outcomes[:, at] = rng.random(3000) < np.where(known, 1 - truth.slip, truth.guess)
        known |= rng.random(3000) < truth.learnt
    found = fit_tracing(outcomes)
    assert found.known == pytest.approx(truth.known, abs=0.04)
    assert found.learnt == pytest.approx(truth.learnt, abs=0.04)
    assert found.guess == pytest.approx(truth.guess, abs=0.04)
    assert found.slip == pytest.approx(truth.slip, abs=0.04)


def test_a_task_always_met_is_fitted_without_certainty():
    found = fit_tracing(np.ones((30, 4), dtype=int))
    assert trace(np.ones((1, 4), dtype=int), found).forecast.max() < 1


def test_wins_raise_and_failures_lower_the_practice_factors():
    rows = [(f"s{n}", "t", lesson, 4 if n % 2 else 1) for n in range(8) for lesson in (1, 2, 3)]
    said = predict_all_train(practice_factors, table(*rows)).reshape(8, 3)
    assert said[1, 0] < said[1, 1] < said[1, 2]
    assert said[0, 0] > said[0, 1] > said[0, 2]
