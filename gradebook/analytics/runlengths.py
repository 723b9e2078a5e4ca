"""When a chart of yes-or-no outcomes signals: the exact distribution of its run length.

The chart's score goes up or down by a fixed step with each outcome, is never below 0 and
signals at a threshold. Scores are kept as whole billionths, so that equal scores are equal and
ends are exact.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

UNIT = 10**9
_GRID = UNIT // 20
_NEGLIGIBLE = 1e-12


@dataclass(frozen=True, slots=True)
class Walk:
    """What a chart adds and takes away, in billionths, both positive."""

    up: int
    down: int


def run_lengths(walk: Walk, p_up: float, h: float, attempts: int) -> NDArray[np.float64]:
    """Chance that the first signal comes at attempt 1, 2 ... `attempts`; exact.

    `p_up` is the chance that an attempt adds to the score. Empty without attempts.
    """
    scores, masses = np.zeros(1, np.int64), np.ones(1)
    signals = np.zeros(attempts)
    for attempt in range(attempts):
        scores, masses, signals[attempt] = _attempt(walk, p_up, h, (scores, masses))
    return signals


def mean_run_length(walk: Walk, p_up: float, h: float) -> float:
    """Mean attempts until the signal, without limit.

    The chart begins anew each time it returns to 0, so it is the mean length of one excursion
    from 0 over the chance that it ends in a signal.
    """
    scores, masses = np.zeros(1, np.int64), np.ones(1)
    length = signalled = 0.0
    while masses.sum() > _NEGLIGIBLE * signalled:
        length += float(masses.sum())
        scores, masses, signal = _attempt(walk, p_up, h, (scores, masses))
        signalled += signal
        away = scores > 0
        scores, masses = scores[away], masses[away]
    return length / signalled


def _attempt(
    walk: Walk, p_up: float, h: float, now: tuple[NDArray[np.int64], NDArray[np.float64]]
) -> tuple[NDArray[np.int64], NDArray[np.float64], float]:
    """Scores and their chances after one more attempt, and the chance of a signal at it."""
    scores, masses = now
    moved = np.concatenate([scores + walk.up, np.maximum(scores - walk.down, 0)])
    shares = np.concatenate([masses * p_up, masses * (1 - p_up)])
    over = moved >= round(h * UNIT)
    kept, where = np.unique(moved[~over], return_inverse=True)
    gathered = np.zeros(kept.size)
    np.add.at(gathered, where, shares[~over])
    return kept, gathered, float(shares[over].sum())


def signal_chance(walk: Walk, p_up: float, h: float, attempts: int) -> float:
    """Chance of a signal within `attempts`; 0 without attempts."""
    return float(run_lengths(walk, p_up, h, attempts).sum())


def smallest_threshold(walk: Walk, p_up: float, attempts: int, bound: float) -> float:
    """Smallest threshold on a grid of .05 whose chance of a signal is within the bound.

    By bisection: a higher threshold never signals sooner. At the latest it is one that
    `attempts` steps up do not reach.
    """
    low, high = 0, walk.up * attempts // _GRID + 1
    while high - low > 1:
        middle = (low + high) // 2
        within = signal_chance(walk, p_up, middle / 20, attempts) <= bound
        low, high = (low, middle) if within else (middle, high)
    return high / 20


def streak_chance(k: int, n: int, p: float) -> float:
    """Chance of k successes in a row somewhere within n tries, each a success with chance p.

    0 when n < k. ValueError unless k >= 1, n >= 0 and p lies in [0, 1]. Source: the recursion
    on the length of the present streak (common practice).
    """
    if k < 1 or n < 0 or not 0 <= p <= 1:
        raise ValueError("A streak has at least one try, and a chance lies between 0 and 1.")
    streaks, reached = [1.0] + [0.0] * (k - 1), 0.0
    for _ in range(n):
        reached += streaks[-1] * p
        streaks = [sum(streaks) * (1 - p), *(chance * p for chance in streaks[:-1])]
    return reached
