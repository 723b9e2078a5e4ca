"""Recurring errors: which lists of them can be believed."""

import numpy as np
import pytest
from scipy.stats import beta, binomtest, gamma

from gradebook.analytics.discoveries import benjamini_hochberg
from gradebook.analytics.recurrence import (
    Finding,
    RecurrenceRules,
    hourly_rates,
    recurrences,
    tally,
    upper_bound_clean,
)
from gradebook.analytics.shrinkage import fit_beta

STUDENTS, ERRORS = 60, 60


def school(seed):
    """A simulated school whose rates are not the model's: marks, opportunities, true rates.

    Students scatter log-normally around an error's rate; 9 % of them also have it for real.
    """
    rng = np.random.default_rng(seed)
    shape = STUDENTS, ERRORS
    opportunities = rng.integers(3, 26, shape)
    ordinary = rng.uniform(0.02, 0.10, ERRORS) * np.exp(rng.normal(-0.125, 0.5, shape))
    recurring = np.maximum(ordinary, rng.uniform(0.10, 0.45, shape))
    rates = np.where(rng.random(shape) < 0.09, recurring, ordinary)
    return rng.binomial(opportunities, rates), opportunities, rates


@pytest.fixture(scope="module")
def judged():
    """Four schools: (marks, whether the rate truly is above the threshold, findings)."""
    found = []
    for seed in range(4):
        marks, opportunities, rates = school(seed)
        truth = rates > np.maximum(2 * rates.mean(axis=0), 0.10)
        found.append((marks, truth, recurrences(marks, opportunities)))
    return found


def false_share(judged, chosen):
    """Share of false ones among the findings chosen, over all schools, and how many."""
    right = [
        truth[one.student, one.error] for _, truth, f in judged for one in f if chosen(one)
    ]
    return 1 - np.mean(right), len(right)


def test_two_or_more_marks_are_mostly_no_recurring_error(judged):
    share, n = false_share(judged, lambda one: one.marks >= 2)
    assert share > 0.5
    assert n > 1000


def test_the_list_to_act_on_holds_its_level(judged):
    share, n = false_share(judged, lambda one: one.finding is Finding.ACT)
    assert share < 0.10 + 0.05
    assert n > 200


def test_the_list_to_watch_holds_its_level_and_is_longer(judged):
    share, n = false_share(judged, lambda one: one.finding is not Finding.NONE)
    assert share < 0.20 + 0.05
    assert n > false_share(judged, lambda one: one.finding is Finding.ACT)[1]


def test_the_frequentist_list_holds_its_level_too(judged):
    share, n = false_share(judged, lambda one: one.p_adjusted <= 0.10)
    assert share < 0.10 + 0.05
    assert n > 100


def test_a_shrunk_rate_is_nearer_the_truth_than_the_raw_one():
    marks, opportunities, rates = school(0)
    raw, shrunk = marks / opportunities, np.zeros(marks.shape)
    for one in recurrences(marks, opportunities):
        shrunk[one.student, one.error] = one.rate
    assert ((shrunk - rates) ** 2).mean() < 0.6 * ((raw - rates) ** 2).mean()


def test_a_finding_says_why():
    marks = np.zeros((30, 1), int)
    marks[:6], marks[0] = 1, 8
    opportunities = np.full((30, 1), 12)
    first = recurrences(marks, opportunities)[0]
    fit = fit_beta(marks[:, 0], opportunities[:, 0])
    posterior = beta(fit.a + 8, fit.b + 4)
    assert (first.student, first.error, first.marks, first.opportunities) == (0, 0, 8, 12)
    assert (first.school.marks, first.school.opportunities) == (13, 360)
    assert (first.school.students, first.school.fit) == (30, fit)
    assert first.threshold == pytest.approx(max(2 * fit.mean, 0.10))
    assert first.rate == pytest.approx(posterior.mean())
    assert (first.low, first.high) == pytest.approx(posterior.interval(0.8))
    assert first.chance == pytest.approx(posterior.sf(first.threshold))
    others = binomtest(8, 12, 5.5 / 349, alternative="greater").pvalue
    assert first.p_value == pytest.approx(others)
    assert first.finding is Finding.ACT


def test_adjusted_p_values_count_every_pair_that_could_be_made():
    marks, opportunities, _ = school(1)
    opportunities[:, 0] = marks[:, 0] = 0
    found = recurrences(marks, opportunities)
    assert len(found) == STUDENTS * (ERRORS - 1)
    adjusted = benjamini_hochberg([one.p_value for one in found])
    assert [one.p_adjusted for one in found] == pytest.approx(adjusted)


def test_the_likeliest_stand_first():
    marks, opportunities, _ = school(2)
    chances = [one.chance for one in recurrences(marks, opportunities)]
    assert chances == sorted(chances, reverse=True)


def test_one_more_mark_makes_recurrence_likelier():
    opportunities = np.full((20, 1), 10)
    marks = np.ones((20, 1), int)
    chances = []
    for own in range(8):
        marks[0] = own
        chances += [one.chance for one in recurrences(marks, opportunities) if not one.student]
    assert chances == sorted(chances)


def test_no_opportunity_says_nothing():
    assert recurrences(np.zeros((0, 0)), np.zeros((0, 0))) == ()
    assert recurrences([[0, 0]], [[0, 0]]) == ()


@pytest.mark.parametrize(("marks", "opportunities"), [(0, 1), (1, 1), (0, 2), (1, 2), (2, 2)])
def test_one_or_two_opportunities_are_no_finding(marks, opportunities):
    (only,) = recurrences([[marks]], [[opportunities]])
    assert only.finding is Finding.NONE
    assert only.p_value >= 0.25
    assert 0 < only.low < only.rate < only.high < 1


def test_an_error_that_everybody_makes_is_nobodys_own():
    found = recurrences(np.full((20, 1), 9), np.full((20, 1), 10))
    assert {one.finding for one in found} == {Finding.NONE}
    assert {one.threshold for one in found} == {1.0}


def test_a_school_may_set_its_own_threshold():
    marks, opportunities = np.full((20, 1), 2), np.full((20, 1), 10)
    rules = RecurrenceRules(factor=0.5, floor=0.05)
    assert {one.finding for one in recurrences(marks, opportunities)} == {Finding.NONE}
    assert {one.finding for one in recurrences(marks, opportunities, rules)} == {Finding.ACT}


@pytest.mark.parametrize(
    ("marks", "opportunities", "says"),
    [([[2]], [[1]], "opportunities"), ([[1]], [[1, 1]], "shape"), ([1], [1], "shape")],
)
def test_tables_that_do_not_match_are_refused(marks, opportunities, says):
    with pytest.raises(ValueError, match=says):
        recurrences(marks, opportunities)


def test_lists_of_opportunities_become_tables():
    counted = tally(
        ["Ada", "Ada", "Bo", "Ada"], ["x", "y", "x", "x"], [True, False, False, True]
    )
    assert (counted.students, counted.errors) == (("Ada", "Bo"), ("x", "y"))
    assert counted.marks.tolist() == [[2, 0], [0, 0]]
    assert counted.opportunities.tolist() == [[2, 1], [1, 0]]


def test_an_empty_list_becomes_an_empty_table():
    counted = tally([], [], [])
    assert recurrences(counted.marks, counted.opportunities) == ()


def test_lists_of_different_length_are_refused():
    with pytest.raises(ValueError, match="argument"):
        tally(["Ada"], ["x"], [])


def test_rates_per_hour_are_drawn_towards_the_schools():
    none, few, many = hourly_rates([0, 9, 9], [0, 1, 30])
    assert none.rate == pytest.approx(none.school.mean)
    assert none.school.mean < few.rate < 9
    assert 9 / 30 < many.rate < many.school.mean


def test_the_interval_of_a_rate_per_hour_is_the_gamma_posteriors():
    for one in hourly_rates([2, 5, 0], [4.0, 6.0, 3.0], coverage=0.9):
        posterior = gamma(one.school.shape + one.count, scale=1 / (one.school.rate + one.hours))
        assert one.rate == pytest.approx(posterior.mean())
        assert (one.low, one.high) == pytest.approx(posterior.interval(0.9))


def test_nobody_has_no_rate_per_hour():
    assert hourly_rates([], []) == ()


@pytest.mark.parametrize(
    ("n", "bound"), [(10, 0.2589), (20, 0.1391), (30, 0.0950), (50, 0.0582), (100, 0.0295)]
)
def test_clean_opportunities_bound_the_rate(n, bound):
    # The exact bound behind the rule of three: Hanley and Lippman-Hand 1983.
    assert upper_bound_clean(n) == pytest.approx(bound, abs=5e-5)
    assert upper_bound_clean(n) == pytest.approx(beta.ppf(0.95, 1, n))


def test_nothing_seen_bounds_nothing():
    assert upper_bound_clean(0) == 1
    assert upper_bound_clean(1) == pytest.approx(0.95)
    assert upper_bound_clean(2) == pytest.approx(1 - 0.05**0.5)
    assert upper_bound_clean(22, 0.90) < 0.10 < upper_bound_clean(21, 0.90)


@pytest.mark.parametrize(("n", "confidence"), [(-1, 0.95), (3, 1.0), (3, 0.0)])
def test_an_impossible_bound_is_refused(n, confidence):
    with pytest.raises(ValueError, match="negative"):
        upper_bound_clean(n, confidence)
