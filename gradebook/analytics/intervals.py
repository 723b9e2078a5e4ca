"""Intervals for proportions of few trials."""

from math import sqrt
from statistics import NormalDist


def wilson(k: int, n: int, confidence: float = 0.95) -> tuple[float, float]:
    """Score interval of a proportion: k of n, both ends between 0 and 1.

    Nothing tried (n = 0) says nothing: (0, 1). ValueError unless 0 <= k <= n and the confidence
    lies between 0 and 1. Source: E. B. Wilson, 'Probable inference, the law of succession, and
    statistical inference', Journal of the American Statistical Association 22 (1927) 209-212.
    """
    if not 0 <= k <= n:
        raise ValueError(f"{k} of {n} is not a proportion.")
    if not 0 < confidence < 1:
        raise ValueError("Confidence lies between 0 and 1.")
    if n == 0:
        return 0.0, 1.0
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    centre = k + z * z / 2
    reach = z * sqrt(k * (n - k) / n + z * z / 4)
    low = (centre - reach) / (n + z * z) if k > 0 else 0.0
    high = (centre + reach) / (n + z * z) if k < n else 1.0
    return low, high
