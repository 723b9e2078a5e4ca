"""False discovery rates against scipy and statsmodels."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import false_discovery_control
from statsmodels.stats.multitest import multipletests

from gradebook.analytics.discoveries import bayes_discoveries, benjamini_hochberg

# Benjamini and Hochberg 1995, the fifteen p-values of their example; adjusted with R.
P_VALUES = [
    *(0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240),
    *(0.4262, 0.5719, 0.6528, 0.7590, 1),
]
ADJUSTED = [
    *(0.0015, 0.0030, 0.0095, 0.03562, 0.0603, 0.06386, 0.06386, 0.0645, 0.0765, 0.486),
    *(0.58118, 0.71487, 0.75323, 0.81321, 1),
]
chances = st.lists(st.floats(0, 1), max_size=40)


def test_the_published_example_finds_four():
    adjusted = benjamini_hochberg(P_VALUES)
    assert adjusted == pytest.approx(ADJUSTED, abs=1e-5)
    assert (adjusted <= 0.05).sum() == 4


@given(chances.filter(bool))
def test_adjusted_p_values_agree_with_scipy_and_statsmodels(p_values):
    adjusted = benjamini_hochberg(p_values)
    assert adjusted == pytest.approx(false_discovery_control(p_values))
    assert adjusted == pytest.approx(multipletests(p_values, method="fdr_bh")[1])


def test_none_one_and_two_p_values():
    assert benjamini_hochberg([]).size == 0
    assert benjamini_hochberg([0.03]) == pytest.approx([0.03])
    assert benjamini_hochberg([0.9, 0.03]) == pytest.approx([0.9, 0.06])


@pytest.mark.parametrize("level", [0.1, 0.2])
@given(chances)
def test_the_list_is_the_longest_whose_expected_false_share_is_within_the_level(level, chances):
    listed = bayes_discoveries(chances, level)
    doubts = np.sort(1 - np.array(chances, dtype=float))
    lengths = [n for n in range(1, len(chances) + 1) if doubts[:n].mean() <= level]
    assert abs(listed.sum() - max(lengths, default=0)) <= _ties(doubts, level)
    kept, left = np.array(chances)[listed], np.array(chances)[~listed]
    assert not (kept.size and left.size) or kept.min() >= left.max()


def _ties(doubts, level):
    """Lengths at which the mean is the level itself, where rounding decides."""
    means = np.cumsum(doubts) / np.arange(1, doubts.size + 1)
    return int(np.isclose(means, level, rtol=1e-12, atol=1e-15).sum())


def test_a_sure_finding_makes_room_for_a_doubtful_one():
    assert bayes_discoveries([0.85], 0.1).tolist() == [False]
    assert bayes_discoveries([0.85, 0.99], 0.1).tolist() == [True, True]


def test_no_findings_make_an_empty_list():
    assert bayes_discoveries([], 0.1).size == 0


@pytest.mark.parametrize("values", [[-0.1], [1.2], [float("nan")], [[0.5]]])
def test_what_is_no_probability_is_refused(values):
    with pytest.raises(ValueError, match="between 0 and 1"):
        benjamini_hochberg(values)
    with pytest.raises(ValueError, match="between 0 and 1"):
        bayes_discoveries(values, 0.1)
