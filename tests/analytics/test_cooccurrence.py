"""Errors made together, against scipy and statsmodels."""

import numpy as np
import pytest
from scipy.stats import fisher_exact
from statsmodels.stats.contingency_tables import Table2x2
from statsmodels.stats.multitest import multipletests

from gradebook.analytics.cooccurrence import Pairing, cooccurrences


def lessons(seed, n=300):
    """Marks of six errors in n lessons; the last two are made together."""
    rng = np.random.default_rng(seed)
    marks = rng.random((n, 6)) < 0.15
    marks[:, 5] = np.where(rng.random(n) < 0.6, marks[:, 4], marks[:, 5])
    return marks, rng.random((n, 6)) < 0.9


def test_tasting_tea():
    # Fisher 1935: three of four cups right. Values computed with R and scipy.
    tea = Pairing(3, 1, 1, 3)
    assert tea.p_value == pytest.approx(17 / 70)
    assert tea.expected == 2
    assert tea.odds_ratio == pytest.approx(3.5**2 / 1.5**2)


@pytest.mark.parametrize("seed", range(20))
def test_a_table_agrees_with_scipy_and_statsmodels(seed):
    cells = np.random.default_rng(seed).integers(0, 30, 4)
    pairing, square = Pairing(*cells.tolist()), cells.reshape(2, 2)
    theirs = fisher_exact(square, alternative="greater").pvalue
    assert pairing.p_value == pytest.approx(theirs)
    halves = Table2x2(square + 0.5)
    assert pairing.odds_ratio == pytest.approx(halves.oddsratio)
    assert pairing.odds_interval(0.9) == pytest.approx(halves.oddsratio_confint(alpha=0.1))


def test_the_two_errors_made_together_are_found_and_no_others():
    marks, could = lessons(1)
    found = cooccurrences(marks & could, could)
    assert len(found) == found[0].tested == 15
    assert (found[0].first, found[0].second) == (4, 5)
    assert found[0].p_adjusted < 0.001 < 0.05 < found[1].p_adjusted
    assert 1 < found[0].low < found[0].pairing.odds_ratio < found[0].high


def test_only_lessons_in_which_both_could_be_made_count():
    marks, could = lessons(2)
    found = {(one.first, one.second): one for one in cooccurrences(marks & could, could)}
    both = could[:, 1] & could[:, 3]
    a, b = marks[both, 1], marks[both, 3]
    expected = Pairing(*(int(x.sum()) for x in (a & b, a & ~b, ~a & b, ~a & ~b)))
    assert found[1, 3].pairing == expected


def test_adjusted_p_values_agree_with_statsmodels():
    marks, could = lessons(3)
    found = cooccurrences(marks & could, could)
    theirs = multipletests([one.pairing.p_value for one in found], method="fdr_bh")[1]
    assert [one.p_adjusted for one in found] == pytest.approx(theirs)


def test_errors_of_one_task_are_not_paired():
    marks, could = lessons(1)
    groups = ["start", "start", "hover", "hover", "landing", "landing"]
    found = cooccurrences(marks & could, could, groups)
    pairs = {(one.first, one.second) for one in found}
    assert len(pairs) == found[0].tested == 12
    assert not pairs & {(0, 1), (2, 3), (4, 5)}


def test_too_few_lessons_or_too_rare_errors_are_not_tested():
    rare = np.zeros((40, 2), bool)
    rare[0] = True
    assert cooccurrences(rare, np.ones_like(rare)) == ()
    often = np.tile([[True, True], [False, False]], (9, 1))
    assert cooccurrences(often, np.ones_like(often)) == ()
    assert len(cooccurrences(often, np.ones_like(often), least=18)) == 1


@pytest.mark.parametrize("n", [0, 1, 2])
def test_no_one_or_two_lessons_say_nothing(n):
    marks = np.ones((n, 3), bool)
    assert cooccurrences(marks, marks) == ()


def test_no_or_one_error_has_no_pair():
    for errors in (0, 1):
        marks = np.ones((50, errors), bool)
        assert cooccurrences(marks, marks) == ()


def test_a_table_without_lessons_says_nothing():
    nothing = Pairing(0, 0, 0, 0)
    assert (nothing.n, nothing.expected, nothing.odds_ratio, nothing.p_value) == (0, 0, 1, 1)


def test_tables_that_do_not_match_are_refused():
    with pytest.raises(ValueError, match="one shape"):
        cooccurrences([[True]], [[True, True]])
    with pytest.raises(ValueError, match="among them"):
        cooccurrences([[True]], [[False]])
    with pytest.raises(ValueError, match="group"):
        cooccurrences([[True, True]], [[True, True]], ["start"])
