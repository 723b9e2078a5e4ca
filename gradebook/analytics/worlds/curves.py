"""Worlds A and C: skill on a curve from a start to a plateau, and a deviation that wanders."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.worlds.flights import Flights
from gradebook.analytics.worlds.learning import Chain

PLATEAU_SHARE = 0.6
DEVIATION_SD = 0.5
KEPT = 0.9
POINTS = 15


class Progress(Protocol):
    """How far practice has brought a student, 0 (start) to 1 (plateau)."""

    def reached(self, flights: Flights, speed: Floats) -> Floats:
        """Just before each row, (rows, N); `speed` is (rows, 1) or (1, N)."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Exponential:
    """A practice takes a share `rate` (tasks,) of what is left; days fade it exponentially.

    Retention over a gap after n attempts is exp(-gap / (days * (1 + n) ** growth)).
    """

    rate: Floats
    days: float = 60.0
    growth: float = 0.5

    def reached(self, flights: Flights, speed: Floats) -> Floats:
        """See `Progress`."""
        left = (1 - self.rate[flights.task])[:, None] ** speed
        found = np.zeros_like(left)
        retention = np.exp(-flights.gap / (self.days * (1 + flights.attempt) ** self.growth))
        for attempt in range(1, flights.attempt.max(initial=0) + 1):
            now = np.flatnonzero(flights.attempt == attempt)
            learned = 1 - left[now] * (1 - found[flights.previous[now]])
            found[now] = learned * retention[now][:, None]
        return found


@dataclass(frozen=True, slots=True, eq=False)
class Power:
    """What is left falls as a power `rate` (tasks,) of practice; each practice fades likewise.

    A practice of d days ago counts (1 + d / days) ** -fading.
    """

    rate: Floats
    days: float = 15.0
    fading: float = 0.5

    def reached(self, flights: Flights, speed: Floats) -> Floats:
        """See `Progress`."""
        practice = np.zeros(len(flights.day))
        back = flights.previous
        while (back >= 0).any():
            ago = np.where(back >= 0, flights.day - flights.day[back], np.inf)
            practice += (1 + ago / self.days) ** -self.fading
            back = np.where(back >= 0, flights.previous[back], -1)
        return 1 - (1 + speed * practice[:, None]) ** -self.rate[flights.task][:, None]


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """Skill from `start` to `plateau` (tasks,), both raised by ability, plus a deviation.

    The deviation of a student on a task is normal and keeps 90 % from attempt to attempt.
    """

    progress: Progress
    start: Floats
    plateau: Floats

    def skills(
        self, flights: Flights, ability: Floats, speed: Floats, rng: np.random.Generator
    ) -> Floats:
        """See `Learning`."""
        curve = self._curve(flights, ability[:, None], speed[:, None])[:, 0]
        deviation = rng.normal(0, DEVIATION_SD, len(curve))
        for attempt in range(1, flights.attempt.max(initial=0) + 1):
            now = np.flatnonzero(flights.attempt == attempt)
            kept = KEPT * deviation[flights.previous[now]]
            deviation[now] = kept + np.sqrt(1 - KEPT**2) * deviation[now]
        return curve + deviation

    def chain(self, flights: Flights, ability: Floats, speed: Floats) -> Chain:
        """See `Learning`: the states are points of the deviation."""
        points = DEVIATION_SD * np.linspace(-3, 3, POINTS)
        first = np.exp(-0.5 * (points / DEVIATION_SD) ** 2)
        moved = (points - KEPT * points[:, None]) / (DEVIATION_SD * np.sqrt(1 - KEPT**2))
        step = np.exp(-0.5 * moved**2)
        step /= step.sum(axis=1, keepdims=True)
        curve = self._curve(flights, ability[None, :], speed[None, :])
        kinds = np.broadcast_to(first / first.sum(), (len(ability), POINTS))
        return Chain(curve[:, :, None] + points, kinds, step[None, None])

    def _curve(self, flights: Flights, ability: Floats, speed: Floats) -> Floats:
        reached = self.progress.reached(flights, speed)
        start = self.start[flights.task][:, None] + ability
        plateau = self.plateau[flights.task][:, None] + PLATEAU_SHARE * ability
        return start + reached * (plateau - start)


def approach(tasks: int, rng: np.random.Generator) -> Curves:
    """World A."""
    progress = Exponential(1 / (1 + np.exp(-rng.normal(-1.1, 0.4, tasks))))
    return Curves(progress, rng.normal(-1.3, 0.5, tasks), rng.normal(1.3, 0.4, tasks))


def power_law(tasks: int, rng: np.random.Generator) -> Curves:
    """World C."""
    progress = Power(np.exp(rng.normal(np.log(0.6), 0.3, tasks)))
    return Curves(progress, rng.normal(-1.4, 0.6, tasks), rng.normal(2.2, 0.5, tasks))
