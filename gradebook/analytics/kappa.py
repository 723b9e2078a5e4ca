"""Agreement beyond chance on categories: weighted kappa of two raters, Fleiss' of many."""

from enum import Enum
from math import sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from gradebook.analytics.agreement import Table, tally
from gradebook.analytics.estimate import Estimate

TOO_FEW = "Fewer than two units were graded by both."
CONSTANT = "All grades are the same, so chance agreement is complete."
NO_SPREAD = "The large-sample interval fails: no unit differs from the others."


class Weights(Enum):
    """How much a disagreement costs: all the same, by its distance, by its square."""

    UNWEIGHTED = "unweighted"
    LINEAR = "linear"
    QUADRATIC = "quadratic"


def cross_table(first: Table, second: Table, values: Table) -> Table:
    """How often one rater gave each value while the other gave each, shape (K, K).

    `first` and `second` have one grade a unit, NaN for none; units with a blank are left out.
    """
    both = ~(np.isnan(first) | np.isnan(second))
    table = np.zeros((len(values), len(values)))
    np.add.at(
        table, (np.searchsorted(values, first[both]), np.searchsorted(values, second[both])), 1
    )
    return table


def weighted_kappa(
    table: Table, weights: Weights, scores: Table | None = None, confidence: float = 0.95
) -> Estimate:
    """Cohen's kappa of a square table of counts, with the asymptotic interval, cut to [-1, 1].

    No value for fewer than two units or when both raters always gave one and the same grade; no
    interval when the asymptotic error is 0, as with full agreement.

    Parameters
    ----------
    table : array, shape (K, K)
        Units by the grade of the first rater (rows) and of the second (columns).
    scores : array, shape (K,), optional
        Where each grade lies on the scale; without it grades lie one step apart.

    References
    ----------
    J. Cohen, Psychological Bulletin 70 (1968) 213-220; J. L. Fleiss, J. Cohen, B. S. Everitt,
    Psychological Bulletin 72 (1969) 323-327 (from memory).
    """
    n = table.sum()
    if n < 2:
        return Estimate(None, why=TOO_FEW)
    share = table / n
    credit = _credit(np.arange(len(table)) if scores is None else scores, weights)
    rows, columns = share.sum(axis=1), share.sum(axis=0)
    by_chance = float(rows @ credit @ columns)
    if 1 - by_chance < 1e-12:
        return Estimate(None, why=CONSTANT)
    kappa = (float((share * credit).sum()) - by_chance) / (1 - by_chance)
    expected = np.add.outer(credit @ columns, rows @ credit)
    spread = (share * (credit - expected * (1 - kappa)) ** 2).sum()
    variance = (spread - (kappa - by_chance * (1 - kappa)) ** 2) / (n * (1 - by_chance) ** 2)
    return _around(kappa, float(variance), confidence)


def _credit(scores: NDArray[np.generic], weights: Weights) -> Table:
    """Agreement counted for each pair of grades, from 0 (farthest apart) to 1 (equal)."""
    apart = np.abs(np.subtract.outer(scores, scores)).astype(float)
    if weights is Weights.UNWEIGHTED:
        return np.asarray(apart == 0, dtype=float)
    if weights is Weights.QUADRATIC:
        apart = apart**2
    return np.asarray(1 - apart / (apart.max() or 1))


def _around(value: float, variance: float, confidence: float) -> Estimate:
    if variance <= 1e-15:
        return Estimate(value, why=NO_SPREAD)
    reach = NormalDist().inv_cdf((1 + confidence) / 2) * sqrt(variance)
    return Estimate(value, max(-1.0, value - reach), min(1.0, value + reach))


def fleiss_kappa(ratings: Table, confidence: float = 0.95) -> Estimate:
    """Fleiss' kappa of a complete table of ratings, shape (units, raters); see `fleiss_counts`.

    No value when a cell is blank.
    """
    if np.isnan(ratings).any():
        return Estimate(None, why="Not every rater graded every unit.")
    return fleiss_counts(tally(ratings)[1], confidence)


def fleiss_counts(counts: Table, confidence: float = 0.95) -> Estimate:
    """Fleiss' kappa of counts, shape (units, categories), every row with the same sum.

    The interval is the large-sample one, which lets units be more or less clear; it is cut to
    [-1, 1]. No value for fewer than two units or raters or for one category only; no interval
    when all units weigh the same, as with full agreement. ValueError for unequal rows.

    References
    ----------
    J. L. Fleiss, Psychological Bulletin 76 (1971) 378-382; variance: K. L. Gwet, Educational
    and Psychological Measurement 81 (2021) 781-790 (both from memory).
    """
    if len(counts) < 2:
        return Estimate(None, why="Fewer than two units were graded.")
    raters = float(counts[0].sum())
    if (counts.sum(axis=1) != raters).any():
        raise ValueError("Every unit needs the same number of ratings.")
    if raters < 2:
        return Estimate(None, why="There are not two raters.")
    agreeing = (counts * (counts - 1)).sum(axis=1) / (raters * (raters - 1))
    share = counts.mean(axis=0) / raters
    by_chance = float(share @ share)
    if 1 - by_chance < 1e-12:
        return Estimate(None, why=CONSTANT)
    kappa = (float(agreeing.mean()) - by_chance) / (1 - by_chance)
    pull = 2 * (1 - kappa) * (counts @ share / raters - by_chance)
    influence = (agreeing - agreeing.mean() - pull) / (1 - by_chance)
    return _around(kappa, float(influence.var(ddof=1)) / len(counts), confidence)
