"""Shifts of a measured value from its target: the tabular CUSUM and its average run length."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import roots_legendre
from scipy.stats import norm

# An instructor's mean residual per lesson, in standard deviations: half of one matters.
DRIFT_K = 0.25
DRIFT_H = 8.0


@dataclass(frozen=True, slots=True)
class CusumChart:
    """Both sides of a tabular CUSUM, in the unit of the values.

    `high[i]` and `low[i]` have summed up what lay above and below the target by more than the
    allowance k, after value i; either signals above `h`, and runs on after that.
    """

    target: float
    h: float
    high: tuple[float, ...]
    low: tuple[float, ...]

    @property
    def first_high(self) -> int | None:
        """Position of the first value at which the high side signals; None without one."""
        return _first_above(self.high, self.h)

    @property
    def first_low(self) -> int | None:
        """Position of the first value at which the low side signals; None without one."""
        return _first_above(self.low, self.h)


def tabular_cusum(values: Sequence[float], target: float, k: float, h: float) -> CusumChart:
    """Two-sided tabular CUSUM of values, oldest first; k and h in the unit of the values.

    Without values both sides are empty. ValueError unless k >= 0 and h > 0. Source:
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3; E. S. Page, 'Continuous inspection
    schemes', Biometrika 41 (1954) 100-115.
    """
    if k < 0 or h <= 0:
        raise ValueError("The allowance k is not negative and the limit h is positive.")
    high, low = [0.0], [0.0]
    for value in values:
        high.append(max(0.0, high[-1] + value - target - k))
        low.append(max(0.0, low[-1] + target - value - k))
    return CusumChart(target, h, tuple(high[1:]), tuple(low[1:]))


def one_sided_arl(k: float, h: float, shift: float = 0.0) -> float:
    """Average run length of the high side over independent normal values.

    k, h and the shift of the mean are in standard deviations. A shift down is negative, and its
    run length may be infinite in floating point.

    The chart begins anew whenever it is back at 0, so this is the mean length of one excursion
    from 0 over the chance that it ends above h. Both solve Page's integral equation, here by
    Gauss-Legendre quadrature. ValueError unless k >= 0 and h > 0.

    Source: D. Brook and D. A. Evans, 'An approach to the probability distribution of cusum run
    length', Biometrika 59 (1972) 539-549, with quadrature in place of their discrete states.
    """
    if k < 0 or h <= 0:
        raise ValueError("The allowance k is not negative and the limit h is positive.")
    length, signal = _excursion(k - shift, h)
    return length / signal if signal > 0 else float("inf")


def two_sided_arl(k: float, h: float, shift: float = 0.0) -> float:
    """Average run length until either side signals; arguments as `one_sided_arl`.

    Signals of the two sides exclude each other's excursions, so their rates add. Source:
    K. W. Kemp, 'The average run length of the cumulative sum chart when a V-mask is used',
    Journal of the Royal Statistical Society B 23 (1961) 149-153 (from memory).
    """
    return 1 / (1 / one_sided_arl(k, h, shift) + 1 / one_sided_arl(k, h, -shift))


def _excursion(allowance: float, h: float) -> tuple[float, float]:
    """Mean length of an excursion from 0, and the chance that it ends above h."""
    points, weights = _nodes(h)
    starts = np.append(points, 0.0)[:, np.newaxis]
    passing = norm.pdf(points - starts + allowance) * weights
    ends = np.column_stack([np.ones(starts.size), norm.sf(h - starts[:, 0] + allowance)])
    inside = np.linalg.solve(np.eye(points.size) - passing[:-1], ends[:-1])
    length, signal = ends[-1] + passing[-1] @ inside
    return float(length), float(signal)


def _nodes(h: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Gauss-Legendre points and weights on (0, h), six for each standard deviation and more."""
    points, weights = roots_legendre(16 + int(6 * h))
    return (points + 1) * h / 2, weights * h / 2


def _first_above(sums: tuple[float, ...], h: float) -> int | None:
    return next((place for place, total in enumerate(sums) if total > h), None)
