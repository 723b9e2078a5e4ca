"""How well parameters foretell the grades: the log chance of each, one step ahead."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from gradebook.analytics.needle.coefficients import Values, coefficients
from gradebook.analytics.needle.floats import Floats, Ints
from gradebook.analytics.needle.kernel import run
from gradebook.analytics.needle.log import GradeLog
from gradebook.analytics.needle.march import March
from gradebook.analytics.needle.replay import blocks

CELLS = 12_000
"""Lanes x parameter sets x speeds marched together; more would leave the processor's cache."""


@dataclass(frozen=True, slots=True)
class Likelihood:
    """The grades laid out once, to be judged by many parameter sets of M = `nodes` speeds."""

    nodes: int
    marches: tuple[tuple[Ints, March], ...]

    def total(self, sets: Sequence[Values]) -> Floats:
        """Summed log chance of all grades under each of Q sets [Q]."""
        sums = np.zeros(len(sets))
        for _, chance in self._each(sets):
            sums += chance.sum(axis=1)
        return sums

    def by_owner(self, sets: Sequence[Values]) -> tuple[Floats, Floats]:
        """Summed log chance by task [Q, tasks] and by instructor [Q, instructors]."""
        tasks = np.zeros((len(sets), sets[0].curves.shape[1]))
        hands = np.zeros((len(sets), sets[0].hands.shape[1]))
        for march, chance in self._each(sets):
            for place, one in enumerate(chance):
                tasks[place] += np.bincount(march.log.task, one, minlength=tasks.shape[1])
                hands[place] += np.bincount(march.log.instructor, one, minlength=hands.shape[1])
        return tasks, hands

    def _each(self, sets: Sequence[Values]) -> Iterator[tuple[March, Floats]]:
        known = coefficients(sets, self.nodes)
        for _, march in self.marches:
            yield march, run(march, known, None, record=False).log_chance


def likelihood(log: GradeLog, nodes: int, n_sets: int) -> Likelihood:
    """Lay out a log for judging `n_sets` parameter sets at a time."""
    lanes = max(16, CELLS // (nodes * n_sets))
    return Likelihood(nodes, tuple(blocks(log, lanes)))
