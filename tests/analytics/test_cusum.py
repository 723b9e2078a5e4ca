"""The tabular CUSUM and its average run length."""

from math import inf

import numpy as np
import pytest
from scipy.stats import norm

from gradebook.analytics.cusum import (
    DRIFT_H,
    DRIFT_K,
    one_sided_arl,
    tabular_cusum,
    two_sided_arl,
)

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3: twenty group means, target 325. k
# and h are the handbook's, from memory; the sums were computed with an independent prototype.
GROUPS = [
    *(324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600),
    *(324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350),
]
LOW = {2: 0.0075, 4: 0.3325, 7: 0.5575, 8: 0.7150, 9: 0.1725, 10: 0.2550, 11: 0.3125}
HIGH = {5: 0.0325, 13: 3.0075, 14: 4.9400, 15: 7.4475, 16: 10.6300}
HIGH |= {17: 11.9875, 18: 14.4450, 19: 16.0025, 20: 19.0350}

# Published by Lucas and Crosier (Technometrics 24, 1982) and in the handbook, from memory;
# computed with R's spc.
ARLS = [
    (4, 0, 335.37, 167.68),
    (4, 0.25, 77.08, 74.22),
    (4, 0.5, 26.68, 26.63),
    (4, 1, 8.38, 8.38),
    (4, 2, 3.34, 3.34),
    (5, 0, 930.89, 465.44),
    (5, 0.25, 141.69, 139.49),
    (5, 0.5, 38.01, 38.00),
    (5, 1, 10.38, 10.38),
    (5, 2, 4.01, 4.01),
]


def test_the_handbooks_example_signals_at_the_fourteenth_group():
    chart = tabular_cusum(GROUPS, 325, 0.3175, 4.1959)
    assert chart.high == pytest.approx([HIGH.get(group, 0) for group in range(1, 21)], abs=1e-9)
    assert chart.low == pytest.approx([LOW.get(group, 0) for group in range(1, 21)], abs=1e-9)
    assert (chart.first_high, chart.first_low) == (13, None)


def test_nothing_measured_signals_nothing():
    chart = tabular_cusum([], 0, 0.5, 4)
    assert (chart.high, chart.low, chart.first_high, chart.first_low) == ((), (), None, None)


def test_one_value_far_below_signals_low():
    chart = tabular_cusum([-6.0], 0, 0.5, 4)
    assert (chart.high, chart.low, chart.first_low) == ((0,), (5.5,), 0)


def test_two_values_in_opposite_directions_cancel():
    chart = tabular_cusum([3.0, -3.0], 0, 0.5, 4)
    assert (chart.high, chart.low) == ((2.5, 0), (0, 2.5))


@pytest.mark.parametrize(("h", "shift", "one_sided", "two_sided"), ARLS)
def test_the_published_run_lengths(h, shift, one_sided, two_sided):
    assert one_sided_arl(0.5, h, shift) == pytest.approx(one_sided, abs=0.0051)
    assert two_sided_arl(0.5, h, shift) == pytest.approx(two_sided, abs=0.0051)


def chain(k, h, shift, states=400):
    """Brook and Evans' Markov chain: one-sided run length on a grid of states."""
    width = 2 * h / (2 * states - 1)
    steps = np.arange(states) - np.arange(states)[:, np.newaxis]
    upper = norm.cdf((steps + 0.5) * width + k - shift)
    moves = upper - norm.cdf((steps - 0.5) * width + k - shift)
    moves[:, 0] = upper[:, 0]
    return np.linalg.solve(np.eye(states) - moves, np.ones(states))[0]


@pytest.mark.parametrize(("k", "h", "shift"), [(0.5, 4, 0), (0.25, 8, 0.25), (1, 2, 0.5)])
def test_run_lengths_agree_with_the_markov_chain(k, h, shift):
    assert one_sided_arl(k, h, shift) == pytest.approx(chain(k, h, shift), rel=1e-4)


def test_watching_for_drift_is_quiet_for_years_and_fast_at_one_standard_deviation():
    # Computed here; the one-sided values agree with the Markov chain above.
    assert two_sided_arl(DRIFT_K, DRIFT_H) == pytest.approx(368.39, abs=0.01)
    assert two_sided_arl(DRIFT_K, DRIFT_H, 0.5) == pytest.approx(28.76, abs=0.01)
    assert two_sided_arl(DRIFT_K, DRIFT_H, 1) == pytest.approx(11.39, abs=0.01)


def test_a_shift_signals_alike_in_either_direction():
    assert two_sided_arl(0.5, 5, -1) == pytest.approx(two_sided_arl(0.5, 5, 1))


def test_a_large_shift_away_hardly_ever_signals():
    assert one_sided_arl(0.5, 5, -1) > 1e6
    assert one_sided_arl(0.5, 30, -15) == inf
    assert two_sided_arl(0.5, 5, 8) == pytest.approx(1, abs=0.01)


@pytest.mark.parametrize(("k", "h"), [(-0.1, 4), (0.5, 0)])
def test_an_impossible_limit_is_refused(k, h):
    for chart in (lambda: tabular_cusum([1.0], 0, k, h), lambda: one_sided_arl(k, h)):
        with pytest.raises(ValueError, match="allowance"):
            chart()
