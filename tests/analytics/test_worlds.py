"""Simulated schools: what they hold, and the limit of what can be known of them."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import t as student_t

from gradebook.analytics.metrics import brier
from gradebook.analytics.worlds.curves import Exponential, Power
from gradebook.analytics.worlds.flights import LARGE, Size, flown
from gradebook.analytics.worlds.grading import Grading, t4_cdf
from gradebook.analytics.worlds.learning import ABILITY_SD, LOG_SPEED_SD
from gradebook.analytics.worlds.mastery import mastery
from gradebook.analytics.worlds.simulation import DAY_SD, WORLDS, simulate
from gradebook.analytics.worlds.truth import limit_forecast

TINY = Size(students=6, tasks=5, instructors=3, lessons=8)
MIDDLING = Size(students=24, tasks=8, instructors=3, lessons=10)


@pytest.fixture(scope="module", params=WORLDS)
def tiny(request):
    return simulate(request.param, TINY, seed=1)


@pytest.fixture(scope="module", params=WORLDS)
def middling(request):
    world = simulate(request.param, MIDDLING, seed=2)
    return world, limit_forecast(world)


@pytest.fixture(scope="module")
def large():
    return simulate("A", LARGE, seed=3).grades


def test_the_same_seed_gives_the_same_school(tiny):
    again = simulate(tiny.name, TINY, seed=1)
    assert again.grades.equals(tiny.grades)
    assert again.truth.equals(tiny.truth)


def test_another_seed_gives_another_school(tiny):
    assert not simulate(tiny.name, TINY, seed=2).grades.equals(tiny.grades)


def test_a_table_has_the_columns_of_every_grade_table(tiny):
    assert list(tiny.grades) == [
        "student", "task", "instructor", "lesson", "flown_on", "grade",
    ]  # fmt: skip
    assert set(tiny.grades["grade"]) <= {1, 2, 3, 4}
    assert tiny.grades["lesson"].between(1, TINY.lessons).all()


def test_lessons_of_a_student_are_in_order_of_date(tiny):
    for _, rows in tiny.grades.groupby("student"):
        assert rows["lesson"].is_monotonic_increasing
        assert rows["flown_on"].is_monotonic_increasing


def test_a_task_is_graded_once_in_a_lesson(tiny):
    assert not tiny.grades.duplicated(["student", "lesson", "task"]).any()


def test_tasks_enter_in_syllabus_order(tiny):
    first = tiny.grades.groupby(["student", "task"])["lesson"].min().unstack()
    assert (first.diff(axis=1).iloc[:, 1:] >= 0).all(axis=None)


def test_a_task_is_flown_about_six_times(large):
    assert 5 <= large.groupby(["student", "task"]).size().mean() <= 7


def test_seven_lessons_in_ten_are_with_the_home_instructor(large):
    lessons = large.drop_duplicates(["student", "lesson"])
    counts = lessons.groupby("student")["instructor"].value_counts(normalize=True)
    assert counts.groupby("student").max().mean() == pytest.approx(0.7, abs=0.03)


def test_one_instructor_can_run_a_school():
    world = simulate("B", Size(students=1, tasks=1, instructors=1, lessons=1), seed=0)
    assert len(world.grades) == 1
    assert world.severity.tolist() == [0]
    assert limit_forecast(world)[0] == pytest.approx(0.2, abs=0.15)


def test_an_empty_school_is_refused():
    with pytest.raises(ValueError, match="at least one"):
        Size(students=0, tasks=1, instructors=1, lessons=1)


def test_an_unknown_world_is_refused():
    with pytest.raises(ValueError, match="no world D"):
        simulate("D", TINY, seed=0)


def test_a_severe_instructor_is_met_less_often_than_a_neutral_one(tiny):
    severity = tiny.grades["instructor"].map(tiny.severity)
    harder = tiny.truth["p_named"] < tiny.truth["p_neutral"]
    assert (harder == (severity > 0)).all()


def test_severities_sum_to_zero(tiny):
    assert tiny.severity.sum() == pytest.approx(0)


def test_the_truth_says_how_often_the_standard_is_met(middling):
    world, _ = middling
    truth = world.truth["p_named"].to_numpy()
    error = np.sqrt((truth * (1 - truth)).sum()) / len(truth)
    # four standard errors, doubled because grades of one lesson share a day
    assert world.meets.mean() == pytest.approx(truth.mean(), abs=8 * error)


def test_the_limit_lies_between_the_truth_and_the_base_rate(middling):
    world, limit = middling
    base = np.full(len(limit), world.meets.mean())
    truth = world.truth["p_named"]
    assert brier(world.meets, truth) < brier(world.meets, limit) < brier(world.meets, base)


def test_the_limit_is_calibrated_against_the_truth(middling):
    world, limit = middling
    fifths = np.array_split(np.argsort(limit), 5)
    truth = world.truth["p_named"].to_numpy()
    off = [truth[rows].mean() - limit[rows].mean() for rows in fifths]
    assert np.abs(off).max() < 0.08


def test_the_limit_does_not_see_the_lesson_or_what_follows(tiny):
    before = limit_forecast(tiny, [0])
    rows = (tiny.grades["student"] == "S001") & (tiny.grades["lesson"] >= 4)
    other = tiny.grades.assign(grade=tiny.grades["grade"].where(~rows, 1))
    after = limit_forecast(replace(tiny, grades=other), [0])
    same = (tiny.grades["student"] == "S001") & (tiny.grades["lesson"] <= 4)
    assert np.array_equal(before[same], after[same])


@pytest.mark.parametrize("name", WORLDS)
def test_the_limit_agrees_with_counting_students_of_the_same_record(name):
    """60,000 students fly the same two lessons of two tasks; the record is the first lesson."""
    rng, many = np.random.default_rng(7), 60_000
    world = simulate(name, Size(students=1, tasks=2, instructors=2, lessons=2), seed=4)
    each = flown(
        np.repeat(np.arange(many), 4),
        *(np.tile(column, many) for column in ([0, 1] * 2, [1, 1, 0, 0], [0, 0, 1, 1])),
        np.tile([0, 0, 20, 20], many),
    )
    ability = np.repeat(rng.normal(0, ABILITY_SD, many), 4)
    speed = np.exp(np.repeat(rng.normal(0, LOG_SPEED_SD, many), 4))
    day = np.repeat(rng.normal(0, DAY_SD, 2 * many), 2)
    skill = world.learning.skills(each, ability, speed, rng) + day
    grade = world.grading.draw(skill, each.instructor, rng).reshape(many, 4)
    for record in ([1, 1], [1, 3], [2, 3], [3, 3]):
        same = grade[(grade[:, :2] == record).all(axis=1)]
        table = world.grades.iloc[[0] * 4].assign(grade=[*record, 1, 1])
        said = limit_forecast(replace(world, flights=each.of(0), grades=table))[2:]
        counted = (same[:, 2:] >= 3).mean(axis=0)
        assert said == pytest.approx(counted, abs=4 / np.sqrt(4 * len(same)))


def test_good_grades_raise_the_limit_of_later_lessons(tiny):
    mine = tiny.grades["student"] == "S001"
    early, later = mine & (tiny.grades["lesson"] <= 4), mine & (tiny.grades["lesson"] > 4)
    said = [
        limit_forecast(
            replace(tiny, grades=tiny.grades.assign(grade=tiny.grades["grade"].mask(early, g))),
            [0],
        )[later]
        for g in (1, 4)
    ]
    assert (said[0] < said[1]).all()


def test_the_limit_of_some_students_leaves_out_the_others(tiny):
    some = limit_forecast(tiny, [2])
    assert np.array_equal(np.isnan(some), tiny.grades["student"] != "S003")
    assert np.array_equal(some[~np.isnan(some)], limit_forecast(tiny)[~np.isnan(some)])


def one_task(days):
    """One student flying one task on these days."""
    days = np.array(days)
    zero = np.zeros(len(days), dtype=int)
    return flown(zero, zero, zero, np.arange(len(days)), days)


def test_exponential_progress_by_hand():
    reached = Exponential(np.array([0.3]), days=50, growth=1).reached(
        one_task([0, 10]), np.array([[1.0, 2.0]])
    )
    kept = np.exp(-10 / (50 * 2))
    assert reached == pytest.approx(np.array([[0, 0], [0.3 * kept, (1 - 0.7**2) * kept]]))


def test_power_law_progress_by_hand():
    reached = Power(np.array([0.5]), days=10, fading=1).reached(
        one_task([0, 10, 30]), np.array([[1.0]])
    )
    practice = np.array([0, 1 / 2, 1 / 4 + 1 / 3])
    assert reached[:, 0] == pytest.approx(1 - (1 + practice) ** -0.5)


def test_mastery_moves_one_state_up_by_practice_and_down_by_rest():
    rng = np.random.default_rng(0)
    chain = mastery(1, rng).chain(one_task([0, 0, 5000]), np.zeros(1), np.ones(1))
    assert chain.step.sum(axis=-1) == pytest.approx(np.ones((3, 1, 3)))
    assert chain.first.sum(axis=-1) == pytest.approx(1)
    at_once, much_later = chain.step[1, 0], chain.step[2, 0]
    assert at_once[0, 1] > 0
    assert at_once[2] == pytest.approx([0, 0, 1])
    assert much_later[2] == pytest.approx([0, 1, 0])


@pytest.mark.parametrize("noise", ["normal", "logistic", "t4"])
def test_the_chances_of_all_grades_sum_to_one_and_agree_with_meeting(noise):
    grading = Grading(np.array([0.3]), np.array([1.2]), noise, 0.8, habit=0.1)
    skill, who = np.array([-2.0, 0.0, 0.3, 5.0]), np.zeros(4, dtype=int)
    chance = np.stack([grading.chance(np.full(4, grade), skill, who) for grade in range(1, 5)])
    assert chance.sum(axis=0) == pytest.approx(np.ones(4))
    assert chance[2:].sum(axis=0) == pytest.approx(grading.meets(skill, 0.3))


@pytest.mark.parametrize("noise", ["normal", "logistic", "t4"])
def test_grades_are_drawn_as_often_as_their_chance(noise):
    rng, many = np.random.default_rng(5), 20_000
    grading = Grading(np.array([0.3]), np.array([1.2]), noise, 0.8, habit=0.1)
    skill, who = np.full(many, 0.2), np.zeros(many, dtype=int)
    drawn = np.bincount(grading.draw(skill, who, rng), minlength=5)[1:] / many
    chance = [grading.chance(np.array([g]), skill[:1], who[:1])[0] for g in range(1, 5)]
    assert drawn == pytest.approx(chance, abs=0.015)


def test_the_t_distribution_agrees_with_scipy():
    x = np.linspace(-30, 30, 201)
    assert t4_cdf(x) == pytest.approx(student_t(4).cdf(x), abs=1e-12)
