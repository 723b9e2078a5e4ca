"""How well parameters foretell the grades: the log chance of each, one step ahead."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from gradebook.analytics.needle.coefficients import Values, coefficients
from gradebook.analytics.needle.floats import Floats, Ints
from gradebook.analytics.needle.kernel import Run, run
from gradebook.analytics.needle.log import GradeLog
from gradebook.analytics.needle.march import March
from gradebook.analytics.needle.replay import blocks

CELLS = 12_000
"""Rows x parameter sets x speeds taken in together; more would leave the processor's cache."""

SWEEPS = 2
"""So often each grade of a sitting is worked out against the others, once less than in a
replay: a fit asks for slopes only."""

SITTING = 8
"""So many grades of one sitting are reckoned with."""


@dataclass(frozen=True, slots=True)
class Slope:
    """Slope of the log chance, and the information about where it is 0; `total` is its value.

    By parameter [P] and [P, P], or by owner [k, owners] both.
    """

    total: float
    slope: Floats
    information: Floats

    def plus(self, each: Floats, owner: Ints) -> "Slope":
        """With the slopes [k, n] of some more grades or sittings of these owners [n]."""
        size = self.slope.shape[1]
        slope = [np.bincount(owner, one, size) for one in each]
        square = [np.bincount(owner, one * one, size) for one in each]
        return Slope(self.total, self.slope + slope, self.information + square)


def _nothing(rows: int, owners: int) -> Slope:
    return Slope(0.0, np.zeros((rows, owners)), np.zeros((rows, owners)))


@dataclass(frozen=True, slots=True)
class Likelihood:
    """The grades laid out once, to be judged by many parameter sets of M = `nodes` speeds."""

    nodes: int
    marches: tuple[tuple[Ints, March], ...]

    def total(self, sets: Sequence[Values]) -> Floats:
        """Summed log chance of all grades under each of Q sets [Q]."""
        sums = np.zeros(len(sets))
        for _, done in self._each(sets):
            sums += done.log_chance.sum(axis=1)
        return sums

    def shared(self, sets: Sequence[Values], nudge: float) -> Slope:
        """Slope and information about what all students share [P], [P, P].

        The first of P + 1 sets is where things stand, the others are moved by `nudge` each in
        one direction. The information is the sum over sittings of the outer products of their
        slopes: E. K. Berndt, B. H. Hall, R. E. Hall and J. A. Hausman, 'Estimation and
        inference in nonlinear structural models', Annals of Economic and Social Measurement 3
        (1974) 653-665; given all before, a sitting's slope has mean 0 at the truth.
        """
        size = len(sets) - 1
        total, slope, information = 0.0, np.zeros(size), np.zeros((size, size))
        for march, done in self._each(sets):
            chance = np.add.reduceat(done.log_chance[:, march.row], march.edges[:-1], axis=1)
            each = (chance[1:] - chance[0]) / nudge
            total += float(chance[0].sum())
            slope += each.sum(axis=1)
            information += each @ each.T
        return Slope(total, slope, information)

    def own(self, sets: Sequence[Values], tasks: Floats, hands: Floats) -> tuple[Slope, Slope]:
        """Slope and information of each task [3, tasks] and each instructor [2, instructors].

        The first of six sets is where things stand; three have the curves moved by `tasks`
        [tasks], two the hands by `hands` [instructors]. A task is judged by the chance of each
        grade given the others of its sitting, which has a slope of mean 0 at the truth,
        whatever is given; so tasks can be told apart without following what each does to the
        others. J. Besag, 'Statistical analysis of non-lattice data', The Statistician 24 (1975)
        179-195. An instructor is judged by whole sittings.
        """
        curves, grips = _nothing(3, len(tasks)), _nothing(2, len(hands))
        for march, done in self._each(sets):
            log, row = march.log, march.row
            beside = (done.beside[1:4] - done.beside[0]) / tasks[log.task]
            curves = curves.plus(beside, log.task)
            hand = log.instructor[row]
            whole = (done.log_chance[4:, row] - done.log_chance[0, row]) / hands[hand]
            # a sitting has one instructor, or is cut where they change
            cuts = np.zeros(len(row), bool)
            cuts[march.edges[:-1]] = True
            cuts[1:] |= hand[1:] != hand[:-1]
            begins = np.flatnonzero(cuts)
            grips = grips.plus(np.add.reduceat(whole, begins, axis=1), hand[begins])
        return curves, grips

    def _each(self, sets: Sequence[Values]) -> Iterator[tuple[March, Run]]:
        known = coefficients(sets, self.nodes, SWEEPS)
        for _, march in self.marches:
            yield march, run(march, known, None, record=False)


def likelihood(log: GradeLog, nodes: int, n_sets: int) -> Likelihood:
    """Lay out a log for judging `n_sets` parameter sets at a time."""
    lanes = max(4, CELLS // (nodes * n_sets * SITTING))
    return Likelihood(nodes, tuple(blocks(log, lanes)))
