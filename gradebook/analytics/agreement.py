"""Do raters agree: Krippendorff's alpha, the plain share of equal pairs, and the marginals.

A table of ratings is an array of shape (units, raters): one row a thing graded, one column a
rater, NaN where a rater gave nothing. Words stand in it as numbers of the caller's choosing.
"""

from dataclasses import dataclass
from enum import Enum
from typing import Self

import numpy as np
from numpy.typing import NDArray

from gradebook.analytics.estimate import Estimate

DRAWS = 2000
SEED = 20260101
FEWEST_UNITS = 5  # for a bootstrap interval
FEWEST_DEFINED = 0.95  # share of the draws that must have an alpha

Table = NDArray[np.float64]


class Level(Enum):
    """What may be said of the difference between two grades."""

    NOMINAL = "nominal"
    ORDINAL = "ordinal"
    INTERVAL = "interval"
    RATIO = "ratio"


@dataclass(frozen=True, slots=True)
class RawAgreement:
    """Pairs of ratings of one unit: how many were equal, of how many."""

    equal: int
    pairs: int

    @property
    def share(self) -> float | None:
        """0-1; None without a pair."""
        return self.equal / self.pairs if self.pairs else None


def krippendorff_alpha(ratings: Table, level: Level, draws: int = DRAWS) -> Estimate:
    """Krippendorff's alpha with a 95 % percentile interval, units drawn with replacement.

    1 is full agreement, 0 what chance would give, below 0 is worse than chance. Blanks are
    allowed; a unit counts when two raters graded it. The draws start from a fixed seed, so the
    same table has the same interval. No value: fewer than two such units, or one grade only.
    No interval: fewer than five units, or more than one draw in twenty without an alpha.

    Parameters
    ----------
    ratings : array, shape (units, raters)
        NaN where nothing was given.
    level : Level
        `RATIO` needs grades of at least 0.

    Raises
    ------
    ValueError
        A table that is not two-dimensional, an infinite grade, a negative grade on a ratio
        scale.

    References
    ----------
    K. Krippendorff, 'Computing Krippendorff's alpha-reliability', 2011. That the ordinal
    distance is the distance of mid-ranks follows from its definition there.
    """
    values, counts = tally(ratings)
    if level is Level.RATIO and values.size and values[0] < 0:
        raise ValueError("A ratio scale has no grade below 0.")
    counts = counts[counts.sum(axis=1) > 1]
    if len(counts) < 2:
        return Estimate(None, why="Fewer than two units were graded by two raters.")
    grades = _Grades.of(values, counts, level)
    value = grades.alpha(np.ones(len(counts)))
    if value is None:
        return Estimate(None, why="All grades are the same, so chance agreement is complete.")
    if len(counts) < FEWEST_UNITS:
        return Estimate(
            value, why=f"An interval needs {FEWEST_UNITS} units, not {len(counts)}."
        )
    drawn = [grades.alpha(weights) for weights in _resampled(len(counts), draws)]
    return _with_interval(value, drawn)


def _resampled(units: int, draws: int) -> NDArray[np.float64]:
    """How often each unit was drawn, shape (draws, units)."""
    generator = np.random.default_rng(SEED)
    return generator.multinomial(units, np.full(units, 1 / units), size=draws).astype(float)


def _with_interval(value: float, drawn: list[float | None]) -> Estimate:
    defined = [one for one in drawn if one is not None]
    if len(defined) < FEWEST_DEFINED * len(drawn) or not defined:
        return Estimate(value, why="Too few grades differ for an interval.")
    low, high = np.percentile(defined, [2.5, 97.5])
    return Estimate(value, float(low), float(high))


@dataclass(frozen=True, slots=True, eq=False)
class _Grades:
    """Which value (by place) which unit got how often, and what does not change by drawing.

    `within` holds each unit's disagreement, `apart` the squared distances of a ratio scale.
    """

    level: Level
    values: Table
    sizes: Table
    unit: NDArray[np.intp]
    place: NDArray[np.intp]
    times: Table
    within: Table
    apart: Table

    @classmethod
    def of(cls, values: Table, counts: Table, level: Level) -> Self:
        """From how often each unit got each value, every unit at least two."""
        unit, place = np.nonzero(counts)
        sizes = counts.sum(axis=1)
        apart = _ratio(values) if level is Level.RATIO else np.empty((0, 0))
        if level is Level.RATIO:
            within = np.einsum("uv,vw,uw->u", counts, apart, counts, optimize=True)
        elif level is Level.NOMINAL:
            within = sizes**2 - (counts**2).sum(axis=1)
        else:
            centred = values - values.mean()
            within = 2 * (sizes * (counts @ centred**2) - (counts @ centred) ** 2)
        return cls(level, values, sizes, unit, place, counts[unit, place], within, apart)

    def alpha(self, weights: Table) -> float | None:
        """Alpha with each unit counted `weights` times; None when chance agrees fully."""
        drawn = self.times * weights[self.unit]
        totals = np.bincount(self.place, drawn, len(self.values)).astype(float)
        if np.count_nonzero(totals) < 2:
            return None
        n = float(totals.sum())
        scores = self.values - self.values.mean()
        within = self.within
        if self.level is Level.ORDINAL:
            scores = np.cumsum(totals) - totals / 2 - n / 2
            within = self._within_ranks(scores)
        by_chance = self._by_chance(totals, scores) / (n - 1)
        return float(1 - within @ (weights / (self.sizes - 1)) / by_chance)

    def _within_ranks(self, ranks: Table) -> Table:
        own = ranks[self.place] * self.times
        sums = np.bincount(self.unit, own, len(self.sizes))
        squares = np.bincount(self.unit, own * ranks[self.place], len(self.sizes))
        return np.asarray(2 * (self.sizes * squares - sums**2))

    def _by_chance(self, totals: Table, scores: Table) -> float:
        """Squared distance summed over all pairs of grades, whatever their unit."""
        n = totals.sum()
        if self.level is Level.NOMINAL:
            return float(n**2 - totals @ totals)
        if self.level is Level.RATIO:
            return float(totals @ self.apart @ totals)
        return float(2 * (n * (totals @ scores**2) - (totals @ scores) ** 2))


def _ratio(values: Table) -> Table:
    sums = np.add.outer(values, values)
    return np.divide(np.subtract.outer(values, values), np.where(sums == 0, 1, sums)) ** 2


def tally(ratings: Table) -> tuple[Table, Table]:
    """The distinct grades, ascending, and how often each unit got each: (units, grades).

    ValueError for a table that is not two-dimensional or holds an infinite grade.
    """
    ratings = np.asarray(ratings, dtype=float)
    if ratings.ndim != 2 or np.isinf(ratings).any():
        raise ValueError("Ratings are a table of finite numbers, one row a unit.")
    given = ~np.isnan(ratings)
    values, places = np.unique(ratings[given], return_inverse=True)
    counts = np.zeros((len(ratings), len(values)))
    np.add.at(counts, (np.nonzero(given)[0], places), 1)
    return values, counts


def raw_agreement(ratings: Table) -> RawAgreement:
    """How many pairs of ratings of the same unit are equal; (0, 0) without a pair."""
    _, counts = tally(ratings)
    sizes = counts.sum(axis=1)
    equal, pairs = (counts * (counts - 1)).sum() / 2, (sizes * (sizes - 1)).sum() / 2
    return RawAgreement(round(equal), round(pairs))


def marginals(ratings: Table) -> tuple[Table, NDArray[np.int64]]:
    """The distinct grades, ascending, and how often each rater gave each: (raters, grades)."""
    values, counts = tally(np.asarray(ratings, dtype=float).T)
    return values, counts.astype(np.int64)
