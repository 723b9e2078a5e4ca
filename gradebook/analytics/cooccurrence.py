"""Errors that are made together in the same lesson more often than chance would have it."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import exp, log, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import hypergeom, norm

from gradebook.analytics.discoveries import benjamini_hochberg

_LEAST_EXPECTED = 1.0


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
        if not self.both:
            return 1.0
        first, second = self.both + self.only_first, self.both + self.only_second
        return float(hypergeom.sf(self.both - 1, self.n, first, second))

    def odds_interval(self, confidence: float = 0.95) -> tuple[float, float]:
        """Interval of the odds ratio, normal on its logarithm, 1/2 added to each cell.

        Source: B. Woolf, Annals of Human Genetics 19 (1955) 251-253 (from memory).
        """
        cells = (self.both, self.only_first, self.only_second, self.neither)
        reach = norm.isf((1 - confidence) / 2) * sqrt(sum(1 / (cell + 0.5) for cell in cells))
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
    errors = range(made.shape[1])
    if groups is not None and len(groups) != len(errors):
        raise ValueError("Each error has its group.")
    counts = _Counts(made, could)
    found = [
        (first, second, pairing)
        for first, second in combinations(errors, 2)
        if groups is None or groups[first] != groups[second]
        if _is_testable(pairing := counts.pairing(first, second), least)
    ]
    adjusted = benjamini_hochberg([pairing.p_value for *_, pairing in found]).tolist()
    pairs = (
        Cooccurrence(*pair, *pair[2].odds_interval(), p_adjusted, len(found))
        for pair, p_adjusted in zip(found, adjusted, strict=True)
    )
    return tuple(sorted(pairs, key=lambda one: (one.pairing.p_value, one.first, one.second)))


class _Counts:
    """Lessons counted for every pair of errors at once."""

    def __init__(self, made: NDArray[np.bool_], could: NDArray[np.bool_]) -> None:
        marked, chances = made.astype(np.int64), could.astype(np.int64)
        self.both = marked.T @ marked
        self.first = marked.T @ chances
        self.lessons = chances.T @ chances

    def pairing(self, first: int, second: int) -> Pairing:
        """The table of one pair, over the lessons in which both could be made."""
        both = int(self.both[first, second])
        only_first = int(self.first[first, second]) - both
        only_second = int(self.first[second, first]) - both
        rest = int(self.lessons[first, second]) - both - only_first - only_second
        return Pairing(both, only_first, only_second, rest)


def _is_testable(pairing: Pairing, least: int) -> bool:
    return pairing.n >= least and pairing.expected >= _LEAST_EXPECTED


def _tables(
    marks: ArrayLike, opportunities: ArrayLike
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    made, could = (np.asarray(one, dtype=bool) for one in (marks, opportunities))
    if made.ndim != 2 or made.shape != could.shape or (made & ~could).any():
        raise ValueError("Marks and opportunities are tables of one shape, marks among them.")
    return made, could
