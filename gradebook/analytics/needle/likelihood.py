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

SITTING = 8
"""So many grades of one sitting are reckoned with."""


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

    def by_task(self, sets: Sequence[Values]) -> Floats:
        """Summed log chance by task [Q, tasks], each grade given the others of its sitting.

        The chance of a grade given what else is known has a slope of mean 0 at the truth,
        whatever it is given; so tasks can be told apart without following what each does to
        the others. J. Besag, 'Statistical analysis of non-lattice data', The Statistician 24
        (1975) 179-195.
        """
        sums = np.zeros((len(sets), sets[0].curves.shape[1]))
        for march, done in self._each(sets):
            for place, one in enumerate(done.beside):
                sums[place] += np.bincount(march.log.task, one, minlength=sums.shape[1])
        return sums

    def by_hand(self, sets: Sequence[Values]) -> Floats:
        """Summed log chance by instructor [Q, instructors]."""
        sums = np.zeros((len(sets), sets[0].hands.shape[1]))
        for march, done in self._each(sets):
            for place, one in enumerate(done.log_chance):
                sums[place] += np.bincount(march.log.instructor, one, minlength=sums.shape[1])
        return sums

    def _each(self, sets: Sequence[Values]) -> Iterator[tuple[March, Run]]:
        known = coefficients(sets, self.nodes)
        for _, march in self.marches:
            yield march, run(march, known, None, record=False)


def likelihood(log: GradeLog, nodes: int, n_sets: int) -> Likelihood:
    """Lay out a log for judging `n_sets` parameter sets at a time."""
    lanes = max(4, CELLS // (nodes * n_sets * SITTING))
    return Likelihood(nodes, tuple(blocks(log, lanes)))
