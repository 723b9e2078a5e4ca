"""How many more attempts to proficiency, and when: simulated from what is believed today."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from scipy.special import ndtri

from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.outlook import Skill, lasting
from gradebook.analytics.needle.parameters import Parameters
from gradebook.analytics.needle.steps import Path, faded, gains, held, jolt, kept, walked

GREEN_FROM = 0.8
"""Proficient: a chance of meeting the standard this high for an average instructor."""

PATHS, FURTHEST = 1000, 30
"""Simulated futures, and how many attempts each looks ahead."""

SELDOM = 0.2
"""When more than this share never gets there in `FURTHEST` attempts, no number is given."""

SEED = 20_000


@dataclass(frozen=True, slots=True)
class Prospect:
    """Further attempts until proficient: median and 80 % interval.

    None where more than `FURTHEST`. `reached` is the share of futures that get there at all;
    `pace` days lie between attempts.
    """

    task: str
    median: int | None
    low: int | None
    high: int | None
    reached: float
    pace: float

    @property
    def unlikely(self) -> bool:
        """Not on present form: too many futures never get there."""
        return self.reached < 1 - SELDOM

    def day(self, on: date, attempts: int | None) -> date | None:
        """The day so many attempts lie ahead at the present pace."""
        return None if attempts is None else on + timedelta(days=round(attempts * self.pace))


def prospects(known: Skill, parameters: Parameters, pace: float) -> dict[str, Prospect]:
    """The prospect of every task, when it is flown every `pace` days (> 0).

    The same beliefs give the same answer: the futures are drawn from a fixed seed.
    """
    needed = float(ndtri(GREEN_FROM)) * np.sqrt(1 + parameters.spread.day**2)
    needed /= parameters.slope
    when = _first_reached(_Futures(known, parameters, pace), needed)
    return {name: _prospect(name, when[:, at], pace) for at, name in enumerate(known.tasks)}


def _prospect(task: str, when: Floats, pace: float) -> Prospect:
    low, median, high = np.quantile(when, [0.1, 0.5, 0.9], method="inverted_cdf")
    low_, median_, high_ = (None if one > FURTHEST else int(one) for one in (low, median, high))
    return Prospect(task, median_, low_, high_, float((when <= FURTHEST).mean()), pace)


class _Futures:
    """Skill [PATHS, J] in many futures, one attempt after another."""

    def __init__(self, known: Skill, parameters: Parameters, pace: float) -> None:
        self.random = np.random.default_rng(SEED)
        spread, tasks = parameters.spread, known.tasks
        curves = [parameters.curve(name) for name in tasks]
        speed = self.random.choice(
            len(known.weight), PATHS, p=known.weight / known.weight.sum()
        )
        ability = known.ability[speed] + np.sqrt(known.doubt[speed]) * self._normal(PATHS)
        self.skill = (
            known.offset[speed]
            + known.loading[speed] * ability[:, None]
            + np.sqrt(known.residual[speed]) * self._normal((PATHS, len(tasks)))
        )
        self.path, self.ability = (known.path[speed], known.lean[speed]), ability[:, None]
        self.jolt = np.sqrt(jolt(spread, np.array([one.vague for one in curves])))
        rate = np.array([one.rate for one in curves])
        self.gain = gains(rate, spread.speed, parameters.nodes)[speed]
        self.start = np.array([one.start for one in curves])
        self.plateau = np.array([one.plateau for one in curves])
        self.attempts, self.pace, self.spread = known.attempts.copy(), pace, spread

    def _normal(self, shape: int | tuple[int, int]) -> Floats:
        return self.random.standard_normal(shape)

    def _on(self, path: Path) -> Floats:
        return path[0] + path[1] * self.ability

    def attempt(self) -> None:
        """One more attempt, then the usual days of rest."""
        spread, noise = self.spread, self.jolt * self._normal(self.skill.shape)
        now = walked(self.path, self.gain, self.plateau, spread.carry, spread.hold)
        self.skill = held(self.skill, self._on(self.path), self._on(now), spread.hold) + noise
        self.attempts += 1
        keep = np.exp(-self.pace / lasting(spread, self.attempts))
        drift = spread.rest * np.sqrt(self.pace) * self._normal(self.skill.shape)
        self.skill = kept(self.skill, self.start + self.ability, keep) + drift
        self.path = faded(now, keep, self.start)


def _first_reached(futures: _Futures, needed: float) -> Floats:
    """Attempts [PATHS, J] before the skill is first high enough; FURTHEST + 1 for never."""
    when = np.full(futures.skill.shape, FURTHEST + 1)
    for ahead in range(FURTHEST + 1):
        when = np.where((when > FURTHEST) & (futures.skill >= needed), ahead, when)
        futures.attempt()
    return when
