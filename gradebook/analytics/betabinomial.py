"""Many beta-binomial likelihoods at once: where each, times its prior, is highest."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]

BOUND = 12.0
"""No logarithm lies further from 0."""
ROUNDS = 200
CLOSE = 1e-11
"""A step shorter than this is the last."""
LEAST = 1e-10
"""So much of the bend is always added to it, so that it can be divided by."""
SLACK = 1e-9
"""A step may lower the log density by no more: less is rounding."""


def modes(marks: Counts, opportunities: Counts, centre: Floats, spread: float) -> Floats:
    """Logarithms of a and b [2, E] at the mode of each column of two tables [S, E].

    `marks[s, e]` of `opportunities[s, e]`; the prior of both logarithms is normal around
    `centre` [2], flat where `spread` is infinite. Newton's steps, shortened while they lead
    down (K. Levenberg 1944, D. W. Marquardt 1963; from memory).
    """
    tables = [_above(one) for one in (marks, opportunities - marks, opportunities)]
    logs = np.repeat(centre[:, None], marks.shape[1], axis=1)
    here = _curve(tables, logs, centre, spread)
    damping = np.ones(marks.shape[1])
    for _ in range(ROUNDS):
        moved = np.clip(logs + _step(logs, here, damping), -BOUND, BOUND)
        last = np.abs(moved - logs).max(initial=0.0) < CLOSE
        there = _curve(tables, moved, centre, spread)
        better = there[0] > here[0] - SLACK
        logs, here = np.where(better, moved, logs), np.where(better, there, here)
        damping = np.where(better, np.maximum(damping / 10, LEAST), damping * 10)
        if last:
            break
    return logs


def _above(counts: Counts) -> Floats:
    """How many of each column are above 0, above 1, and so on [most, E]."""
    steps = range(int(counts.max(initial=0)))
    found = [(counts > step).sum(axis=0) for step in steps]
    return np.array(found, float).reshape(len(found), counts.shape[1])


def _curve(tables: list[Floats], logs: Floats, centre: Floats, spread: float) -> Floats:
    """Log density, its two slopes, and the second derivatives less: aa, bb, ab [6, E].

    B(a + x, b + n - x) / B(a, b) is a product of rising factorials: log(a + j) is added once
    for every student with more than j marks, and so on; no special functions are needed.
    """
    a, b = np.exp(logs)
    sums = []
    for counts, start in zip(tables, (a, b, a + b), strict=True):
        at = start + np.arange(len(counts))[:, None]
        parts = counts * np.log(at), counts / at, counts / at**2
        sums.append([part.sum(axis=0) for part in parts])
    (value_a, by_a, aa), (value_b, by_b, bb), (value_n, by_n, nn) = sums
    away, narrow = (logs - centre[:, None]) / spread, spread**-2.0
    slope_a, slope_b = a * (by_a - by_n), b * (by_b - by_n)
    value = value_a + value_b - value_n - (away**2).sum(axis=0) / 2
    slopes = slope_a - away[0] / spread, slope_b - away[1] / spread
    bends = a * a * (aa - nn) - slope_a + narrow, b * b * (bb - nn) - slope_b + narrow
    return np.array([value, *slopes, *bends, -a * b * nn])


def _step(logs: Floats, curve: Floats, damping: Floats) -> Floats:
    """A step uphill [2, E], at most 1 in each direction; none that would lead out."""
    slopes, aa, bb, ab = curve[1:3], *curve[3:]
    out = (np.abs(logs) >= BOUND) & (slopes * logs > 0)
    (up, across), ab = np.where(out, 0.0, slopes), np.where(out.any(axis=0), 0.0, ab)
    lowest = (aa + bb) / 2 - np.hypot((aa - bb) / 2, ab)
    more = damping * (1 + np.abs(aa) + np.abs(bb)) + np.maximum(0.0, -lowest)
    aa, bb = aa + more, bb + more
    step = np.array([bb * up - ab * across, aa * across - ab * up]) / (aa * bb - ab * ab)
    return np.asarray(step / np.maximum(1.0, np.abs(step).max(axis=0)))
