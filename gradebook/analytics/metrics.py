"""How good forecasts were, once it is known what happened.

Everywhere `meets` is a boolean array of shape (n,) and `forecast` a probability for each, also
(n,). ValueError when the shapes differ or a forecast lies outside 0 to 1. With n = 0 nothing
can be said: every number is nan.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import rankdata

from gradebook.analytics.intervals import wilson
from gradebook.analytics.needle.floats import Floats

CLIP = 1e-6


@dataclass(frozen=True, slots=True)
class BrierParts:
    """Brier score = reliability - resolution + uncertainty, all 0-1.

    Reliability is the miscalibration (0 is best), resolution what the forecasts tell apart,
    uncertainty what there was to tell.
    """

    reliability: float
    resolution: float
    uncertainty: float


@dataclass(frozen=True, slots=True)
class ReliabilityBin:
    """Forecasts from `low` to `high`: `met` of `n` came true.

    `forecast` is their mean (nan without any), `at_least` and `at_most` the 95 % Wilson
    interval of the share that came true.
    """

    low: float
    high: float
    n: int
    met: int
    forecast: float
    at_least: float
    at_most: float

    @property
    def is_off(self) -> bool:
        """Whether the mean forecast lies outside the interval of what happened."""
        return self.n > 0 and not self.at_least <= self.forecast <= self.at_most


def brier(meets: ArrayLike, forecast: ArrayLike) -> float:
    """Mean squared difference; 0 is perfect, .25 is what always saying one half gets.

    Source: G. W. Brier, Monthly Weather Review 78 (1950) 1-3, in its common form for two
    outcomes.
    """
    y, p = _pair(meets, forecast)
    return _mean((p - y) ** 2)


def log_loss(meets: ArrayLike, forecast: ArrayLike) -> float:
    """Mean negative log probability of what happened; forecasts are kept 1e-6 from 0 and 1."""
    y, p = _pair(meets, forecast)
    kept = np.clip(p, CLIP, 1 - CLIP)
    return _mean(-np.log(np.where(y > 0, kept, 1 - kept)))


def auc(meets: ArrayLike, forecast: ArrayLike) -> float:
    """Probability that a met row had the higher forecast than one not met; ties count half.

    nan when all rows met or none did. Source: J. A. Hanley & B. J. McNeil, Radiology 143 (1982)
    29-36.
    """
    y, p = _pair(meets, forecast)
    met = int(y.sum())
    missed = len(y) - met
    if not met or not missed:
        return float("nan")
    ranks = rankdata(p)[y > 0].sum()
    return float((ranks - met * (met + 1) / 2) / (met * missed))


def calibration_error(meets: ArrayLike, forecast: ArrayLike, bins: int = 10) -> float:
    """Expected calibration error over bins of equal count; equal forecasts share a bin.

    Mean over rows of |share met - mean forecast| of the bin. Common practice; with few rows
    chance alone keeps it above 0.
    """
    y, p = _pair(meets, forecast)
    if not len(y):
        return float("nan")
    place = np.floor((rankdata(p) - 0.5) / len(p) * bins).astype(np.int64)
    gaps = np.bincount(place, y - p, bins)
    return float(np.abs(gaps).sum() / len(y))


def coverage(truth: ArrayLike, low: ArrayLike, high: ArrayLike) -> float:
    """Share of true values inside their interval, ends included; all of shape (n,)."""
    t, a, b = (np.asarray(side, dtype=np.float64) for side in (truth, low, high))
    if not t.shape == a.shape == b.shape:
        raise ValueError("Every value needs one interval.")
    return _mean(((a <= t) & (t <= b)).astype(np.float64))


def brier_parts(meets: ArrayLike, forecast: ArrayLike) -> BrierParts:
    """The Brier score decomposed over groups of equal forecasts, so that the sum is exact.

    Source: A. H. Murphy, Journal of Applied Meteorology 12 (1973) 595-600.
    """
    y, p = _pair(meets, forecast)
    if not len(y):
        return BrierParts(*[float("nan")] * 3)
    value, group, count = np.unique(p, return_inverse=True, return_counts=True)
    share = np.bincount(group, y) / count
    rate = y.mean()
    return BrierParts(
        reliability=float((count * (value - share) ** 2).sum() / len(y)),
        resolution=float((count * (share - rate) ** 2).sum() / len(y)),
        uncertainty=float(rate * (1 - rate)),
    )


def reliability(
    n: Sequence[int], met: Sequence[int], total: Sequence[float]
) -> tuple[ReliabilityBin, ...]:
    """Bins of equal width from 0 to 1, each with what came true.

    Of each bin the forecasts in it, how many of them came true, and the sum of the forecasts.
    """
    found = []
    for at, (tried, true, told) in enumerate(zip(n, met, total, strict=True)):
        mean = told / tried if tried else float("nan")
        ends = wilson(true, tried)
        found.append(ReliabilityBin(at / len(n), (at + 1) / len(n), tried, true, mean, *ends))
    return tuple(found)


def _pair(meets: ArrayLike, forecast: ArrayLike) -> tuple[Floats, Floats]:
    y, p = np.asarray(meets, dtype=np.float64), np.asarray(forecast, dtype=np.float64)
    if y.shape != p.shape or y.ndim != 1:
        raise ValueError("Every row needs one forecast.")
    if not ((p >= 0) & (p <= 1)).all():
        raise ValueError("A forecast is a probability, 0 to 1.")
    return y, p


def _mean(values: Floats) -> float:
    return float(values.mean()) if len(values) else float("nan")
