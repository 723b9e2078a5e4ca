"""What every simulated school has: students who differ, and a way to learn."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.worlds.flights import Flights

ABILITY_SD = 0.6
LOG_SPEED_SD = 0.4


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """One student's flights as hidden chains, one a task, for N kinds of student.

    `skill` (rows, N, M) is the skill in each of M states, `first` (N, M) the probability of a
    state when a task is new, `step` (rows or 1, N or 1, M, M) the transition from the attempt
    before to this row.
    """

    skill: Floats
    first: Floats
    step: Floats


class Learning(Protocol):
    """How skill comes and goes; `ability` and log `speed` are normal over students."""

    def skills(
        self, flights: Flights, ability: Floats, speed: Floats, rng: np.random.Generator
    ) -> Floats:
        """Skill just before each row; ability and speed of the row's student, all (rows,)."""
        ...

    def chain(self, flights: Flights, ability: Floats, speed: Floats) -> Chain:
        """The same of one student, for kinds of ability and speed of shape (N,)."""
        ...
