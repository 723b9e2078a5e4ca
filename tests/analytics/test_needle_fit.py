"""Fitting the needle to a school: what it finds again, and what it leaves alone."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import approx_fprime
from scipy.stats import norm, spearmanr
from statsmodels.miscmodels.ordinal_model import OrderedModel

from gradebook.analytics.needle.coefficients import coefficients, default_parameters, values_of
from gradebook.analytics.needle.draft import first_draft
from gradebook.analytics.needle.fitting import NEAR, fit
from gradebook.analytics.needle.kernel import run
from gradebook.analytics.needle.likelihood import SWEEPS, likelihood
from gradebook.analytics.needle.march import march
from gradebook.analytics.needle.parameters import NODES, Hand, Parameters, TaskCurve
from gradebook.analytics.needle.replay import names_of, replay
from gradebook.analytics.worlds.flights import Size
from gradebook.analytics.worlds.simulation import simulate
from tests.analytics.needle_school import NOTHING, STILL, defaults, log_of, random_rows, still

COLUMNS = "student", "task", "instructor", "lesson", "grade"
SEVERITY = np.array([-0.9, -0.5, -0.1, 0.2, 0.5, 0.8])


def simulated(seed, students=40, lessons=10, severity=SEVERITY, cuts=(-1.5, 0.0, 1.5)):
    """Students who approach a plateau of 1.3 at their own level, graded by many hands."""
    random, rows = np.random.default_rng(seed), []
    starts, ends = random.normal(-1.0, 0.4, 4), random.normal(1.3, 0.3, 4)
    for student in range(students):
        ability, now = random.normal(0, 0.6), starts + random.normal(0, 0.6, 4)
        now = now + ability
        for lesson in range(lessons):
            hand, day = random.integers(len(severity)), random.normal(0, 0.3)
            for task in random.choice(4, 2, replace=False):
                seen = now[task] + day - severity[hand] + random.standard_normal()
                grade = 1 + int(np.searchsorted(cuts, seen))
                who = (f"s{student}", f"task-{task}", f"instructor-{hand}")
                rows.append((*who, lesson, 4.0 * lesson, grade))
                now[task] += 0.25 * (ends[task] + ability / 2 - now[task])
    return rows


@pytest.fixture(scope="module")
def school():
    rows = simulated(1, students=60)
    log, unseen = log_of(rows[:800]), log_of(rows[800:])
    return log, fit(log, defaults()), unseen


def test_the_same_grades_give_the_same_parameters():
    few = log_of(simulated(1, students=6, lessons=3))
    assert fit(few, defaults()) == fit(few, defaults())


def test_a_fit_foretells_better_than_the_defaults(school):
    log, fitted, unseen = school
    assert set(log.students).isdisjoint(unseen.students)
    for grades, by in ((log, 30), (unseen, 10)):
        ours, theirs = (replay(grades, one).log_chance.sum() for one in (fitted, defaults()))
        assert ours > theirs + by


def test_the_severity_of_every_instructor_is_found_again(school):
    fitted = school[1]
    found = [fitted.instructors[f"instructor-{at}"].severity for at in range(len(SEVERITY))]
    assert np.corrcoef(found, SEVERITY)[0, 1] > 0.9
    assert spearmanr(found, SEVERITY).statistic > 0.9


def test_severities_are_centred_by_grades(school):
    log, fitted, _ = school
    hands = fitted.instructors.values()
    assert sum(hand.n for hand in hands) == len(log)
    assert sum(hand.n * hand.severity for hand in hands) == pytest.approx(
        0, abs=1e-9 * len(log)
    )
    assert all(0 < hand.error < 0.4 for hand in hands)


def test_a_fit_says_what_it_rests_on(school):
    log, fitted, _ = school
    assert (fitted.grades, fitted.students, fitted.nodes) == (len(log), 40, NODES)
    assert set(fitted.tasks) == set(log.tasks)
    for cuts in fitted.cuts.values():
        assert list(cuts) == sorted(cuts)
        assert 0.0 in cuts
    assert all(0 < one.rate < 1 and one.unsure > 0 for one in fitted.tasks.values())


def test_every_round_is_reported():
    told = []
    fit(log_of(simulated(2, students=3, lessons=2)), defaults(), told.append)
    assert told[0] == "round 1 of at most 8"
    assert told == [f"round {turn + 1} of at most 8" for turn in range(len(told))]


@pytest.mark.parametrize("n", [0, 1])
def test_with_nothing_to_fit_on_the_start_stays(n):
    assert fit(log_of(simulated(1)[:n]), defaults()) == defaults()


def test_two_grades_are_enough_to_fit_and_move_little():
    fitted = fit(log_of(simulated(1)[:2]), defaults())
    assert fitted.grades == 2
    assert fitted.typical.start == pytest.approx(defaults().typical.start, abs=0.5)
    assert np.isfinite(replay(log_of(simulated(1)[:9]), fitted).log_chance).all()


def test_one_instructor_has_no_severity():
    fitted = fit(log_of(simulated(3, 8, 5, severity=np.zeros(1))), defaults())
    assert fitted.instructors["instructor-0"].severity == pytest.approx(0, abs=1e-12)
    assert fitted.instructors["instructor-0"].n == fitted.grades == 80


def test_a_scale_of_two_levels_is_fitted():
    log = log_of(simulated(4, 12, 5, cuts=(0.0,)))
    start = defaults(2, 2)
    fitted = fit(log, start)
    assert fitted.cuts == {"grade": (0.0,)}
    assert replay(log, fitted).log_chance.sum() > replay(log, start).log_chance.sum()


def test_two_scales_are_fitted_side_by_side():
    rows = simulated(5, 10, 4)
    passed = [(*row[:5], 1 + (row[5] > 2)) if row[1] == "task-0" else row for row in rows]
    scales = {f"task-{at}": "four" if at else "two" for at in range(4)}
    start = default_parameters([("four", 4, 3), ("two", 2, 2)])
    fitted = fit(log_of(passed, scales), start)
    assert set(fitted.cuts) == {"four", "two"}
    assert fitted.cuts["two"] == (0.0,)
    assert len(fitted.cuts["four"]) == 3


@pytest.mark.parametrize("seed", range(3))
def test_grades_without_learning_are_an_ordered_probit(seed):
    # reference: statsmodels OrderedModel(distr='probit'), at the same thresholds
    random = np.random.default_rng(seed)
    cuts, severity = (-0.8, 0.0, 1.1), random.normal(0, 0.5, 3)
    rows = random_rows(seed, students=12, lessons=6)
    log, start = log_of(rows), float(random.normal(0, 0.7))
    hands = {f"instructor-{at}": Hand(float(severity[at]), error=0.0) for at in range(3)}
    known = Parameters(
        {"grade": cuts},
        replace(STILL, ability=1e-9, deviation=1e-9),
        instructors=hands,
        typical=TaskCurve(start, 0.0, 0.0, 0.0),
        nodes=1,
    )
    assert set(log.grade) == {1, 2, 3, 4}
    own = np.array([int(log.instructors[at][-1]) for at in log.instructor])
    model = OrderedModel(log.grade, np.eye(3)[own][:, 1:], distr="probit")
    # its parameters: slopes, the first threshold, then logs of the distances
    slopes, first = severity[0] - severity[1:], cuts[0] - start + severity[0]
    theirs = model.loglike(np.array([*slopes, first, *np.log(np.diff(cuts))]))
    ours = likelihood(log, 1, 1).total([values_of(known, names_of(log))])[0]
    assert ours == pytest.approx(theirs, abs=1e-6)
    assert replay(log, known).log_chance.sum() == pytest.approx(theirs, abs=1e-6)


def test_the_likelihood_is_the_same_however_it_is_added_up():
    log, known = log_of(random_rows(7, students=9)), defaults()
    harder = replace(known, spread=replace(known.spread, day=0.7))
    sets = [values_of(one, names_of(log)) for one in (known, harder)]
    judge = likelihood(log, known.nodes, 2)
    together = coefficients(sets, known.nodes, SWEEPS)
    expected = run(march(log), together, None, record=False).log_chance.sum(axis=1)
    assert judge.total(sets) == pytest.approx(expected, abs=1e-9)
    found = judge.shared(sets, 0.4)
    assert found.total == pytest.approx(expected[0], abs=1e-9)
    assert found.slope == pytest.approx([(expected[1] - expected[0]) / 0.4], abs=1e-9)


def test_slopes_are_those_of_the_summed_chance_and_add_up_over_owners():
    # reference: scipy.optimize.approx_fprime of the summed log chance
    log, known = log_of(random_rows(7, students=9)), defaults()
    draft = first_draft(known, log.tasks, log.instructors)
    here, nudge = draft.vector(), 1e-6
    judge = likelihood(log, known.nodes, len(here) + 1)

    def summed(vector):
        return judge.total([draft.moved(vector).values()])[0]

    moved = [draft.moved(here + row) for row in nudge * np.eye(len(here))]
    found = judge.shared([one.values() for one in (draft, *moved)], nudge)
    assert found.slope == pytest.approx(approx_fprime(here, summed, nudge), abs=1e-3)
    assert np.linalg.eigvalsh(found.information).min() > -1e-6
    assert found.information == pytest.approx(found.information.T)
    # every instructor moved alike: their slopes are parts of one
    hands = np.full(len(log.instructors), nudge)
    harder = replace(draft, hands=draft.hands + np.array([[nudge], [0.0]]))
    sets = [one.values() for one in (*[draft] * 4, harder, draft)]
    each = judge.own(sets, np.full(len(log.tasks), nudge), hands)[1]
    whole = np.diff(judge.total([sets[0], sets[4]]))[0] / nudge
    assert each.slope[0].sum() == pytest.approx(whole, abs=1e-3)
    assert each.slope[1] == pytest.approx(0)
    assert (each.information[0] > 0).all()


def test_the_information_is_what_a_probit_knows_of_its_threshold():
    # one grade a student and nothing else to learn: the information about the start is the sum
    # of squared slopes of an ordered probit, with scipy's normal
    random = np.random.default_rng(3)
    start, cuts = -0.4, (-0.8, 0.0, 1.1)
    seen = start + random.standard_normal(400)
    rows = [
        (f"s{at}", "hover", "Ben", 1, 0.0, 1 + int(np.searchsorted(cuts, one)))
        for at, one in enumerate(seen)
    ]
    log = log_of(rows)
    idle = dict.fromkeys(("deviation", "practice", "rest", "day", "speed"), NOTHING)
    known = replace(
        still(cuts, start=start, rate=NOTHING), spread=replace(STILL, **idle, hold=0.9)
    )
    draft = first_draft(known, log.tasks, log.instructors)
    ways = np.full(1, 1e-5)
    moved = replace(draft, curves=draft.curves + np.array([[1e-5], [0.0], [0.0]]))
    sets = [one.values() for one in (draft, moved, *[draft] * 4)]
    found = likelihood(log, 1, 6).own(sets, ways, ways)[0]
    ends = np.array([-np.inf, *cuts, np.inf]) - start
    low, high = ends[log.grade - 1], ends[log.grade]
    score = (norm.pdf(low) - norm.pdf(high)) / (norm.cdf(high) - norm.cdf(low))
    assert found.slope[0, 0] == pytest.approx(score.sum(), abs=1e-2)
    assert found.information[0, 0] == pytest.approx((score**2).sum(), rel=1e-3)


def test_a_grade_alone_in_its_lesson_is_foretold_alike_beside_no_other():
    rows = [(*row[:3], at, 0.0, row[5]) for at, row in enumerate(random_rows(7))]
    log, known = log_of(rows), defaults()
    sets = [values_of(known, names_of(log))]
    done = run(march(log), coefficients(sets, known.nodes), None, record=False)
    total = likelihood(log, known.nodes, 1).total(sets)[0]
    assert done.beside.sum() == pytest.approx(total, abs=1e-9)


def test_more_rounds_among_the_grades_of_a_lesson_would_lead_a_fit_nowhere_else(monkeypatch):
    log, known = log_of(random_rows(11, students=30, lessons=8)), defaults(day=0.6)
    draft = first_draft(known, log.tasks, log.instructors)
    here = draft.vector()
    sets = [draft, *(draft.moved(here + row) for row in 1e-3 * np.eye(len(here)))]

    def slope():
        judge = likelihood(log, known.nodes, len(sets))
        return judge.shared([one.values() for one in sets], 1e-3)

    few = slope()
    monkeypatch.setattr("gradebook.analytics.needle.likelihood.SWEEPS", 20)
    many = slope()
    apart = few.slope - many.slope
    errors = np.sqrt(apart @ np.linalg.lstsq(many.information, apart)[0] / len(here))
    assert 0 < errors < NEAR / 10  # a step ten times as long counts as none


def test_tasks_are_told_apart_though_a_lesson_shares_its_day():
    # world A, 60 students, 16 tasks; its skills count 1.07 times in units of a probit
    world = simulate("A", Size(students=60, tasks=16, instructors=4, lessons=12), 5)
    rows = zip(*(world.grades[name] for name in COLUMNS), strict=True)
    log = log_of([(s, t, i, n, float(7 * n), g) for s, t, i, n, g in rows])
    found = fit(log, defaults())
    starts = np.array([found.tasks[name].start for name in log.tasks])
    truth = 1.07 * world.learning.start
    off = starts - truth - (starts - truth).mean()
    errors = np.array([found.tasks[name].unsure for name in log.tasks])
    assert np.corrcoef(starts, truth)[0, 1] > 0.94
    assert off.std() < 0.2
    assert 0.5 < off.std() / np.sqrt((errors**2).mean()) < 2  # errors say how far off
