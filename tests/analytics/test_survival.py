"""Survival curves and the log-rank test: a published trial, lifelines and statsmodels."""

import numpy as np
import pytest
from lifelines import KaplanMeierFitter
from lifelines.utils import median_survival_times
from statsmodels.duration.survfunc import survdiff

from gradebook.analytics.survival import kaplan_meier, log_rank

# Freireich et al. 1963, weeks of remission, 21 on 6-MP and 21 controls: the table as in MASS
# (`gehan`); censored times are negative here
TREATED = (
    6,
    6,
    6,
    -6,
    7,
    -9,
    10,
    -10,
    -11,
    13,
    16,
    -17,
    -19,
    -20,
    22,
    23,
    -25,
    -32,
    -32,
    -34,
    -35,
)
CONTROL = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)
WEEKS = np.abs(TREATED + CONTROL)
RELAPSED = np.array(TREATED + CONTROL) > 0
ARM = np.repeat(["6-MP", "control"], 21)


def random_school(seed: int, n: int = 40) -> tuple[np.ndarray, np.ndarray]:
    generator = np.random.default_rng(seed)
    return generator.integers(1, 12, n).astype(float), generator.random(n) < 0.6


def test_the_treated_arm_is_the_published_curve():
    curve = kaplan_meier(WEEKS[:21], RELAPSED[:21])
    assert curve.times.tolist() == [6, 7, 10, 13, 16, 22, 23]
    published = [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482]  # from memory
    assert curve.share == pytest.approx(published, abs=5e-5)
    assert (curve.n, curve.total, curve.few, curve.median.value) == (21, 9, True, 23)
    assert curve.median.high is None


def test_the_control_arm_has_a_median_of_eight_weeks():
    curve = kaplan_meier(WEEKS[21:], RELAPSED[21:])
    assert (curve.median.value, curve.few) == (8, False)
    assert (curve.median.low, curve.median.high) == (4, 11)  # R survival, log-log, from memory
    assert curve.share[-1] == 0


def test_the_arms_differ_by_the_published_log_rank():
    found = log_rank(WEEKS, RELAPSED, ARM)
    assert found.chi2 == pytest.approx(16.79, abs=5e-3)  # from memory
    assert found.p == pytest.approx(4.17e-5, rel=2e-3)  # computed with R survival
    assert (found.groups, found.observed, found.df) == (("6-MP", "control"), (9, 21), 1)
    assert found.expected == pytest.approx((19.25, 10.75), abs=5e-3)
    assert not found.few


@pytest.mark.parametrize("seed", range(6))
def test_curve_and_interval_agree_with_lifelines(seed):
    times, events = random_school(seed)
    theirs = KaplanMeierFitter().fit(times, events)
    ours = kaplan_meier(times, events)
    some = ours.share > 0
    at = ours.times[some]
    assert ours.share[some] == pytest.approx(theirs.survival_function_at_times(at).to_numpy())
    ends = theirs.confidence_interval_.loc[at].to_numpy()
    assert np.column_stack([ours.low, ours.high])[some] == pytest.approx(ends)
    assert ours.median.value == theirs.median_survival_time_
    low, high = median_survival_times(theirs.confidence_interval_).to_numpy()[0]
    assert (ours.median.low, ours.median.high) == (low, high if np.isfinite(high) else None)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("groups", [2, 3, 5])
def test_log_rank_agrees_with_statsmodels(seed, groups):
    times, events = random_school(seed)
    group = np.arange(len(times)) % groups
    theirs = survdiff(times, events, group)
    ours = log_rank(times, events, group.astype(str))
    assert (ours.chi2, ours.p) == pytest.approx(theirs)
    assert ours.df == groups - 1


def test_the_variance_is_greenwoods():
    # 10 start, 2 of 10 and then 1 of 6: S = .8 * 5/6, by hand
    curve = kaplan_meier([1, 1, 2, 2, 3, 4, 4, 4, 4, 4], [1, 1, 0, 0, 1, 0, 0, 0, 0, 0])
    share = 0.8 * 5 / 6
    assert curve.share[-1] == pytest.approx(share)
    assert curve.variance[-1] == pytest.approx(share**2 * (2 / (10 * 8) + 1 / (6 * 5)))


def test_the_share_still_waiting_is_read_at_any_attempt():
    curve = kaplan_meier(WEEKS[:21], RELAPSED[:21])
    assert curve.share_at(9).value == curve.share[1]
    assert curve.share_at(9).low == curve.low[1]
    assert curve.share_at(5).value == 1
    assert (curve.share_at(5).low, curve.share_at(5).why) == (None, "No event by then.")
    assert curve.share_at(35).value == curve.share[-1]
    assert curve.share_at(36).value is None
    assert kaplan_meier(CONTROL, np.ones(21)).share_at(99).value == 0


def test_who_is_still_training_is_never_left_out():
    finished = kaplan_meier([2, 3, 4], [1, 1, 1])
    everyone = kaplan_meier([2, 3, 4, 9, 9, 9], [1, 1, 1, 0, 0, 0])
    assert (finished.median.value, everyone.median.value) == (3, 4)
    assert kaplan_meier([2, 3, 9, 9, 9], [1, 1, 0, 0, 0]).median.value is None


def test_nobody_gives_an_empty_curve():
    curve = kaplan_meier([], [])
    assert (curve.n, curve.total, curve.few, len(curve.times)) == (0, 0, True, 0)
    assert curve.median.value is None
    assert curve.share_at(0).value == 1
    assert curve.share_at(1).why == "Nobody has been followed that far."


def test_one_student_who_is_done_and_one_who_is_not():
    done = kaplan_meier([3], [1])
    assert (done.median.value, done.share.tolist()) == (3, [0])
    assert (done.low.tolist(), done.high.tolist()) == ([0], [1])
    training = kaplan_meier([3], [0])
    assert (training.median.value, training.share_at(3).value) == (None, 1)


def test_two_students_give_a_wide_interval():
    found = kaplan_meier([3, 4], [1, 1]).share_at(3)
    assert found.value == 0.5
    assert found.high - found.low > 0.8


@pytest.mark.parametrize(
    ("times", "events", "groups"),
    [
        ([], [], []),
        ([3], [1], ["a"]),
        ([3, 4], [1, 1], ["a", "a"]),
        ([3, 4], [0, 0], ["a", "b"]),
        ([3, 3], [1, 1], ["a", "b"]),
        ([2, 4], [0, 1], ["a", "b"]),
    ],
)
def test_what_cannot_be_compared_is_not(times, events, groups):
    found = log_rank(times, events, groups)
    assert (found.chi2, found.p, found.df) == (None, None, 0)
    assert found.why


def test_two_students_of_two_groups_are_compared_but_few():
    found = log_rank([3, 4], [1, 1], ["a", "b"])
    assert found.chi2 == pytest.approx(1)  # (1 - 1/2)^2 / (1/4), by hand
    assert found.few


@pytest.mark.parametrize("times", [[-1.0], [float("nan")], [1.0, 2.0], [[1.0]]])
def test_times_that_are_none_are_refused(times):
    with pytest.raises(ValueError, match="time"):
        kaplan_meier(times, [1])


def test_everybody_needs_a_group():
    with pytest.raises(ValueError, match="group"):
        log_rank([1, 2], [1, 1], ["a"])
