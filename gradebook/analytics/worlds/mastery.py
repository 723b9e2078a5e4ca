"""World B: a task is in one of three hidden states, novice, can do it, or solid."""

from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.worlds.flights import Flights
from gradebook.analytics.worlds.learning import Chain

SKILL = np.array([-1.7, 0.5, 2.0])
SOLID_LATER = 0.7
KNOWN_BEFORE = -1.8
ABILITY_SHARE = 0.4
DAYS = 90.0, 180.0


@dataclass(frozen=True, slots=True, eq=False)
class Mastery:
    """Practice lifts one state at a time, days without practice lower it.

    `ease` (tasks,) shifts the skill in every state, `learning` (tasks,) is the logit of the
    chance that one practice makes a novice able. Ability and log speed raise that chance.
    """

    ease: Floats
    learning: Floats

    def skills(
        self, flights: Flights, ability: Floats, speed: Floats, rng: np.random.Generator
    ) -> Floats:
        """See `Learning`."""
        step = self._step(flights, ability[:, None], speed[:, None])[:, 0].cumsum(axis=-1)
        draw = rng.random(len(ability))
        state = (draw[:, None] > _first(ability).cumsum(axis=-1)[:, :2]).sum(axis=1)
        for attempt in range(1, flights.attempt.max(initial=0) + 1):
            now = np.flatnonzero(flights.attempt == attempt)
            row = step[now, state[flights.previous[now]], :2]
            state[now] = (draw[now, None] > row).sum(axis=1)
        skill: Floats = SKILL[state] + self.ease[flights.task] + ABILITY_SHARE * ability
        return skill

    def chain(self, flights: Flights, ability: Floats, speed: Floats) -> Chain:
        """See `Learning`: the states are the three of mastery."""
        ease = self.ease[flights.task][:, None, None]
        skill = SKILL + ease + ABILITY_SHARE * ability[None, :, None]
        step = self._step(flights, ability[None, :], speed[None, :])
        return Chain(skill, _first(ability), step)

    def _step(self, flights: Flights, ability: Floats, speed: Floats) -> Floats:
        """One practice, then the gap, (rows, N, 3, 3)."""
        logit = self.learning[flights.task][:, None] + 0.8 * ability + np.log(speed)
        lift = _between(expit(logit), expit(logit - SOLID_LATER), up=True)
        lost = [1 - np.exp(-flights.gap / days)[:, None] for days in DAYS]
        return lift @ _between(lost[0], lost[1], up=False)


def _first(ability: Floats) -> Floats:
    known = expit(KNOWN_BEFORE + ability)
    return np.stack([1 - known, 0.9 * known, 0.1 * known], axis=-1)


def _between(lower: Floats, upper: Floats, *, up: bool) -> Floats:
    """Transitions that move one state: between novice and able, and between able and solid."""
    step = np.zeros((*lower.shape, 3, 3))
    if up:
        step[..., 0, 1], step[..., 1, 2] = lower, upper
    else:
        step[..., 1, 0], step[..., 2, 1] = lower, upper
    stay = 1 - step.sum(axis=-1)
    step[..., [0, 1, 2], [0, 1, 2]] = stay
    return step


def mastery(tasks: int, rng: np.random.Generator) -> Mastery:
    """World B."""
    return Mastery(rng.normal(0, 0.35, tasks), rng.normal(-0.5, 0.5, tasks))
