"""Which of many findings to believe: false discovery rates, frequentist and Bayesian."""

import numpy as np
from numpy.typing import ArrayLike, NDArray


def benjamini_hochberg(p_values: ArrayLike) -> NDArray[np.float64]:
    """Adjusted p-values, in the order given: those at or below q are findings at rate q.

    One-dimensional; empty in, empty out; a single p-value stays as it is. ValueError outside
    [0, 1]. Source: Y. Benjamini and Y. Hochberg, 'Controlling the false discovery rate: a
    practical and powerful approach to multiple testing', Journal of the Royal Statistical
    Society B 57 (1995) 289-300.
    """
    values = _chances(p_values)
    order = np.argsort(values)[::-1]
    ranks = np.arange(values.size, 0, -1)
    adjusted = np.empty_like(values)
    adjusted[order] = np.minimum.accumulate(values[order] * values.size / ranks)
    return np.minimum(adjusted, 1.0)


def bayes_discoveries(chances: ArrayLike, level: float) -> NDArray[np.bool_]:
    """Which findings form the longest list whose expected false share is within the level.

    `chances[i]` is the posterior probability that finding i is true; the list takes the
    likeliest first, and its expected false share is the mean of 1 - chance over it. Empty in,
    empty out. ValueError outside [0, 1]. Source: M. A. Newton and others, 'Detecting
    differential gene expression with a semiparametric hierarchical mixture method',
    Biostatistics 5 (2004) 155-176 (from memory).
    """
    doubts = 1 - _chances(chances)
    order = np.argsort(doubts, kind="stable")
    shares = np.cumsum(doubts[order]) / np.arange(1, doubts.size + 1)
    listed = np.zeros(doubts.size, bool)
    listed[order[shares <= level]] = True
    return listed


def _chances(values: ArrayLike) -> NDArray[np.float64]:
    array = np.asarray(values, dtype=np.float64)
    if array.ndim != 1 or not ((array >= 0) & (array <= 1)).all():
        raise ValueError("One row of probabilities between 0 and 1.")
    return array
