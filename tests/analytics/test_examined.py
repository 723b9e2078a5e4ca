"""Grades before stage checks, and at them: other libraries, and planted instructors."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import ttest_1samp, ttest_ind
from sklearn.metrics import cohen_kappa_score
from statsmodels.stats.meta_analysis import combine_effects

from gradebook.analytics.examined import FEWEST, examine
from gradebook.analytics.shrinkage import drawn

NOBODY = pd.DataFrame({"instructor": [], "z": [], "before": []})
NONE = pd.DataFrame({"instructor": [], "check": [], "given": [], "found": []})


def lessons(seed: int, names="abcdef", n: int = 40, inflating: str = "", by: float = 0.9):
    """Lesson means of so many lessons each, every fourth of them just before a check."""
    random = np.random.default_rng(seed)
    rows = []
    for name in names:
        before = np.arange(n) % 4 == 0
        z = random.normal(0, 0.6, n) + by * (before & (name in inflating))
        rows.append(pd.DataFrame({"instructor": name, "z": z, "before": before}))
    return pd.concat(rows)


def pairs(seed: int, names="abcdef", checks: int = 12, above: str = "", by: int = 1):
    """Eight tasks a check; what is found is what was given, a level up or down now and then."""
    random = np.random.default_rng(seed)
    rows = []
    for name in names:
        for check in range(checks):
            found = random.integers(-2, 2, 8)
            given = found + random.choice([-1, 0, 0, 1], 8) + by * (name in above)
            one = {"instructor": name, "check": f"{name}{check}", "given": given}
            rows.append(pd.DataFrame({**one, "found": found}))
    return pd.concat(rows)


@pytest.mark.parametrize("seed", range(5))
def test_the_rise_is_welchs_test_over_lessons(seed):
    table = lessons(seed)
    for one in examine(table, NONE).rises:
        mine = table[table["instructor"] == one.instructor]
        before, others = (mine.loc[mine["before"] == side, "z"] for side in (True, False))
        known = ttest_ind(before, others, equal_var=False)  # computed with scipy
        interval = known.confidence_interval(0.95)
        told = one.finding.estimate
        assert (told.value, told.low, told.high) == pytest.approx(
            (before.mean() - others.mean(), interval.low, interval.high)
        )
        assert one.finding.p == pytest.approx(known.pvalue)
        assert (one.before, one.others) == (len(before), len(others))


@pytest.mark.parametrize("seed", range(5))
def test_agreement_with_the_check_is_kappa_over_pairs_and_a_mean_over_checks(seed):
    table = pairs(seed)
    for one in examine(NOBODY, table).confirmations:
        mine = table[table["instructor"] == one.instructor]
        off = (mine["given"] - mine["found"]).groupby(mine["check"]).mean()
        known = ttest_1samp(off, 0)  # computed with scipy
        assert one.finding.estimate.value == pytest.approx(off.mean())
        assert one.finding.estimate.low == pytest.approx(known.confidence_interval(0.95).low)
        assert one.finding.p == pytest.approx(known.pvalue)
        kappa = cohen_kappa_score(mine["given"], mine["found"], weights="linear")
        assert one.kappa.value == pytest.approx(kappa)  # computed with scikit-learn
        assert one.kappa.low < kappa < one.kappa.high
        assert one.same == pytest.approx((mine["given"] == mine["found"]).mean())
        assert (one.pairs, one.checks) == (96, 12)


@pytest.mark.parametrize("seed", range(6))
def test_values_are_drawn_to_the_mean_as_random_effects_are(seed):
    random = np.random.default_rng(seed)
    values, errors = random.normal(0.3, 1.5, 7), random.uniform(0.1, 0.6, 7)
    each, mean = drawn(values, errors)
    known = combine_effects(values, errors**2, method_re="chi2")  # DerSimonian and Laird
    assert mean.value == pytest.approx(known.mean_effect_re)
    assert mean.error == pytest.approx(known.sd_eff_w_re)
    assert known.tau2 > 0
    kept = known.tau2 / (known.tau2 + errors**2)
    assert [one.value for one in each] == pytest.approx(
        list(known.mean_effect_re + kept * (values - known.mean_effect_re))
    )
    assert all(one.error <= error + 1e-12 for one, error in zip(each, errors, strict=True))


def test_values_that_scatter_no_more_than_their_errors_are_all_the_mean():
    each, mean = drawn([0.1, 0.2, 0.3], [0.5, 0.5, 0.5])
    assert each == [mean] * 3
    assert (mean.value, mean.error) == (pytest.approx(0.2), pytest.approx(0.5 / np.sqrt(3)))


def test_a_single_value_is_its_own_mean_and_none_is_refused():
    each, mean = drawn([0.4], [0.2])
    assert each == [mean]
    assert (mean.value, mean.error) == (pytest.approx(0.4), pytest.approx(0.2))
    for values, errors in (([], []), ([1.0], [0.0]), ([1.0, 2.0], [1.0])):
        with pytest.raises(ValueError, match="error above 0"):
            drawn(values, errors)


@pytest.mark.parametrize("seed", range(8))
def test_who_grades_higher_before_checks_is_found_and_nobody_else(seed):
    found = examine(lessons(seed, n=80, inflating="c"), pairs(seed, above="d"))
    assert [one.instructor for one in found.rises if one.finding.flagged] == ["c"]
    assert [one.instructor for one in found.confirmations if one.finding.flagged] == ["d"]
    by_name = {one.instructor: one for one in found.rises}
    assert 0.3 < by_name["c"].drawn.value < by_name["c"].finding.estimate.value
    assert found.checks == 72


def test_where_nobody_differs_hardly_anybody_is_flagged():
    # 40 schools of six instructors asked twice: Benjamini and Hochberg at 5 % leave at most
    # two schools with a finding on average
    wrong = 0
    for seed in range(40):
        found = examine(lessons(100 + seed), pairs(100 + seed))
        told = (*found.rises, *found.confirmations)
        wrong += any(one.finding.flagged for one in told)
    assert wrong <= 6


@pytest.mark.parametrize("n", range(FEWEST))
def test_too_few_checks_say_nothing_of_an_instructor(n):
    table = pairs(1, names="a", checks=n) if n else NONE
    few = lessons(1, names="a", n=4 * n) if n else NOBODY
    found = examine(few, table)
    assert (found.rise.value, found.direction.value) == (None, None)
    for one in (*found.rises, *found.confirmations):
        assert one.finding.estimate.value is None
        assert one.finding.estimate.why.startswith(f"Fewer than {FEWEST}")
        assert (one.drawn, one.finding.flagged) == (None, False)


def test_one_instructor_who_always_agrees_has_no_interval():
    same = pairs(1, names="a").assign(given=lambda table: table["found"])
    (one,) = examine(NOBODY, same).confirmations
    assert (one.same, one.finding.estimate.value, one.finding.p) == (1.0, 0.0, None)
    assert one.kappa.value == pytest.approx(1)
    assert one.drawn is None
