"""Errors that are made together in the same lesson more often than chance would have it."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_array
from scipy.special import ndtri
from scipy.stats import hypergeom

from gradebook.analytics.discoveries import benjamini_hochberg

_LEAST_EXPECTED = 1.0

Flags = NDArray[np.bool_]
Counts = NDArray[np.int64]
Places = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Pairing:
    """Lessons by whether one error was made and another: a 2 x 2 table."""

    both: int
    only_first: int
    only_second: int
    neither: int

    @property
    def n(self) -> int:
        """Lessons in which either could have been made."""
        return self.both + self.only_first + self.only_second + self.neither

    @property
    def expected(self) -> float:
        """Lessons with both if the two had nothing to do with each other; 0 without lessons."""
        first, second = self.both + self.only_first, self.both + self.only_second
        return first * second / self.n if self.n else 0.0

    @property
    def odds_ratio(self) -> float:
        """Odds ratio with 1/2 added to each cell: finite and positive, 1 without lessons.

        Source: J. B. S. Haldane, Annals of Human Genetics 20 (1956) 309-311 (from memory).
        """
        odds = (self.both + 0.5) * (self.neither + 0.5)
        return odds / ((self.only_first + 0.5) * (self.only_second + 0.5))

    @property
    def p_value(self) -> float:
        """Chance of as many lessons with both, or more, by accident: Fisher's exact, one-sided.

        Source: R. A. Fisher, 'The Design of Experiments', 1935.
        """
        cells = self.both, self.only_first, self.only_second, self.neither
        return float(_by_fisher(np.array([cells]))[0])

    def odds_interval(self, confidence: float = 0.95) -> tuple[float, float]:
        """Interval of the odds ratio, normal on its logarithm, 1/2 added to each cell.

        Source: B. Woolf, Annals of Human Genetics 19 (1955) 251-253 (from memory).
        """
        cells = (self.both, self.only_first, self.only_second, self.neither)
        reach = -float(ndtri((1 - confidence) / 2)) * sqrt(
            sum(1 / (cell + 0.5) for cell in cells)
        )
        return exp(log(self.odds_ratio) - reach), exp(log(self.odds_ratio) + reach)


@dataclass(frozen=True, slots=True)
class Cooccurrence:
    """Two errors, `first` and `second` by column, and how they go together: `pairing`.

    `low` and `high` are the 95 % interval of the odds ratio; `p_adjusted` is
    Benjamini-Hochberg's over all the `tested` pairs.
    """

    first: int
    second: int
    pairing: Pairing
    low: float
    high: float
    p_adjusted: float
    tested: int


def cooccurrences(
    marks: ArrayLike,
    opportunities: ArrayLike,
    groups: Sequence[Hashable] | None = None,
    least: int = 20,
) -> tuple[Cooccurrence, ...]:
    """Pairs of errors that could be tested, the least likely to be chance first.

    `marks[l, e]` and `opportunities[l, e]` say for each lesson whether an error was made and
    whether it could have been; a pair's lessons are those in which both could. Pairs with fewer
    than `least` such lessons, or fewer than one lesson with both expected, are not tested; nor
    are errors of one group (the same task or checklist item), which go together trivially, when
    groups are given, one for each column. ValueError for tables or groups that do not match, or
    a mark without an opportunity.

    Lessons count as independent of each other: errors of one weak student also go together.
    """
    made, could = _tables(marks, opportunities)
    if groups is not None and len(groups) != made.shape[1]:
        raise ValueError("Each error has its group.")
    first, second = _apart(made.shape[1], groups)
    cells = _cells(made, could, first, second)
    kept = _is_testable(cells, least)
    cells = cells[kept]
    p_values = _by_fisher(cells)
    rows = zip(first[kept].tolist(), second[kept].tolist(), cells.tolist(), strict=True)
    found = [(one, other, Pairing(*row)) for one, other, row in rows]
    adjusted = benjamini_hochberg(p_values).tolist()
    pairs = [
        Cooccurrence(*pair, *pair[2].odds_interval(), p_adjusted, len(found))
        for pair, p_adjusted in zip(found, adjusted, strict=True)
    ]
    return tuple(pairs[at] for at in np.argsort(p_values, kind="stable").tolist())


def _apart(errors: int, groups: Sequence[Hashable] | None) -> tuple[Places, Places]:
    """Every pair of columns that are not of one group, the lower place first, in order."""
    first, second = np.triu_indices(errors, 1)
    if groups is None:
        return first, second
    known = {group: place for place, group in enumerate(dict.fromkeys(groups))}
    group = np.array([known[one] for one in groups], int)
    kept = group[first] != group[second]
    return first[kept], second[kept]


def _cells(made: Flags, could: Flags, first: Places, second: Places) -> Counts:
    """Both, only the first, only the second, neither, of each pair of columns [P, 4].

    Lessons in which both could be made count. Most cells of the tables are empty.
    """
    marked, chances = (csr_array(one.astype(np.int64)) for one in (made, could))
    both = (marked.T @ marked).toarray()[first, second]
    ones = (marked.T @ chances).toarray()
    lessons = (chances.T @ chances).toarray()[first, second]
    only_first, only_second = ones[first, second] - both, ones[second, first] - both
    rest = lessons - both - only_first - only_second
    return np.column_stack([both, only_first, only_second, rest])


def _is_testable(cells: Counts, least: int) -> Flags:
    n, first, second = _margins(cells)
    return np.asarray((n >= max(least, 1)) & (first * second >= _LEAST_EXPECTED * n))


def _by_fisher(cells: Counts) -> NDArray[np.float64]:
    """`Pairing.p_value` of each row of cells [P, 4]."""
    both = cells[:, 0]
    return np.where(both > 0, hypergeom.sf(both - 1, *_margins(cells)), 1.0)


def _margins(cells: Counts) -> tuple[Counts, Counts, Counts]:
    """Lessons, those with the first, those with the second, of each row of cells [P, 4]."""
    both = cells[:, 0]
    return cells.sum(axis=1), both + cells[:, 1], both + cells[:, 2]


def _tables(marks: ArrayLike, opportunities: ArrayLike) -> tuple[Flags, Flags]:
    made, could = (np.asarray(one, dtype=bool) for one in (marks, opportunities))
    if made.ndim != 2 or made.shape != could.shape or (made & ~could).any():
        raise ValueError("Marks and opportunities are tables of one shape, marks among them.")
    return made, could
