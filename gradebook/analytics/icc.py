"""Intraclass correlation: how much of the spread of grades lies between the things graded."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.stats import f as f_distribution

from gradebook.analytics.agreement import Table
from gradebook.analytics.estimate import Estimate

FORMS = ("(1,1)", "(2,1)", "(3,1)", "(1,k)", "(2,k)", "(3,k)")
NO_MEANS = "Units differ less than the ratings of one unit do."
NO_ERROR = "No rating error was seen, so there is nothing to build an interval on."


@dataclass(frozen=True, slots=True)
class MeanSquares:
    """Two-way analysis of variance: n targets by k judges.

    `within` pools judges and error: the one-way view.
    """

    n: int
    k: int
    targets: float
    judges: float
    error: float

    @property
    def within(self) -> float:
        """Mean square within targets."""
        judges, error = self.judges * (self.k - 1), self.error * (self.n - 1) * (self.k - 1)
        return (judges + error) / (self.n * (self.k - 1))


def mean_squares(ratings: Table) -> MeanSquares:
    """Mean squares of a complete table, shape (targets, judges), at least 2 by 2."""
    n, k = ratings.shape
    total = ratings - ratings.mean()
    rows, columns = total.mean(axis=1), total.mean(axis=0)
    error = float(((total - np.add.outer(rows, columns)) ** 2).sum()) / ((n - 1) * (k - 1))
    return MeanSquares(
        n, k, k * float(rows @ rows) / (n - 1), n * float(columns @ columns) / (k - 1), error
    )


def intraclass_correlations(ratings: Table, confidence: float = 0.95) -> Mapping[str, Estimate]:
    """The six forms of Shrout and Fleiss, each with its F-based interval.

    First figure: 1 every unit has its own raters, 2 the raters stand for others (their severity
    counts as error), 3 these raters only (severity does not count). Second figure: 1 a single
    grade, k the mean of all raters. For standardisation use (2,1).

    No values: fewer than two units or raters, a blank cell, or no spread at all. No interval:
    no rating error. (The interval of (2,k) is that of (2,1) stepped up by Spearman-Brown.)

    Parameters
    ----------
    ratings : array, shape (units, raters)

    References
    ----------
    P. E. Shrout and J. L. Fleiss, Psychological Bulletin 86 (1979) 420-428; K. O. McGraw and
    S. P. Wong, Psychological Methods 1 (1996) 30-46 (both from memory).
    """
    reason = _refusal(ratings)
    if reason:
        return dict.fromkeys(FORMS, Estimate(None, why=reason))
    squares = mean_squares(ratings)
    if squares.targets + squares.within < 1e-12 * (1 + float((ratings**2).mean())):
        return dict.fromkeys(FORMS, Estimate(None, why="All grades are the same."))
    n, k = squares.n, squares.k
    tail = (1 + confidence) / 2
    one_way = _by_f(squares.targets, squares.within, (n - 1, n * (k - 1)), tail)
    fixed = _by_f(squares.targets, squares.error, (n - 1, (n - 1) * (k - 1)), tail)
    two_way = _absolute(squares, tail)
    single = [_single(one_way, k), two_way, _single(fixed, k)]
    return dict(zip(FORMS, [*single, one_way, _stepped_up(two_way, k), fixed], strict=True))


def _refusal(ratings: Table) -> str:
    if ratings.shape[0] < 2:
        return "Fewer than two units were graded."
    if ratings.shape[1] < 2:
        return "There are not two raters."
    return "Not every rater graded every unit." if np.isnan(ratings).any() else ""


def _by_f(targets: float, error: float, freedom: tuple[int, int], tail: float) -> Estimate:
    """Reliability of a mean, 1 - error / targets, with the interval of its F ratio."""
    if targets <= 1e-12 * error:
        return Estimate(None, why=NO_MEANS)
    if error <= 1e-12 * targets:
        return Estimate(1.0, why=NO_ERROR)
    ratio = targets / error
    low = ratio / f_distribution.ppf(tail, *freedom)
    high = ratio * f_distribution.ppf(tail, *freedom[::-1])
    return Estimate(1 - 1 / ratio, 1 - 1 / float(low), 1 - 1 / float(high))


def _single(mean: Estimate, k: int) -> Estimate:
    """Reliability of one grade from that of the mean of k."""

    def down(value: float | None) -> float | None:
        return None if value is None else value / (k - (k - 1) * value)

    return Estimate(down(mean.value), down(mean.low), down(mean.high), mean.why)


def _stepped_up(single: Estimate, k: int) -> Estimate:
    """Reliability of the mean of k from that of one grade (Spearman-Brown)."""
    if single.value is None or single.value <= -1 / (k - 1):
        return Estimate(None, why=single.why or NO_MEANS)
    value = _up(single.value, k)
    if single.low is None or single.high is None:
        return Estimate(value, why=single.why)
    if single.low <= -1 / (k - 1):
        return Estimate(value, why=NO_MEANS)
    return Estimate(value, _up(single.low, k), _up(single.high, k))


def _up(value: float, k: int) -> float:
    return k * value / (1 + (k - 1) * value)


def _absolute(squares: MeanSquares, tail: float) -> Estimate:
    """ICC(2,1): one grade by one of many raters, severity counted as error."""
    n, k, error = squares.n, squares.k, squares.error
    between = squares.targets - error
    whole = squares.targets + (k - 1) * error + k * (squares.judges - error) / n
    if whole <= 1e-12 * error:
        return Estimate(None, why=NO_MEANS)
    value = between / whole
    if error <= 1e-12 * (squares.targets + squares.judges):
        return Estimate(value, why=NO_ERROR)
    judged = k * value * squares.judges / error
    rest = n * (1 + (k - 1) * value) - k * value
    freedom = (k - 1) * (n - 1) * (judged + rest) ** 2 / ((n - 1) * judged**2 + rest**2)
    down = float(f_distribution.ppf(tail, n - 1, freedom))
    up = float(f_distribution.ppf(tail, freedom, n - 1))
    noise = k * squares.judges + (k * n - k - n) * error
    low = n * (squares.targets - down * error) / (down * noise + n * squares.targets)
    high = n * (up * squares.targets - error) / (noise + n * up * squares.targets)
    return Estimate(value, low, high)
