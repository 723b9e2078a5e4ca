"""What the needle says today: the chance next time, how sure, and how fresh."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from gradebook.analytics.needle.beliefs import Beliefs
from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.parameters import Parameters, Spread, speed_nodes
from gradebook.analytics.needle.steps import faded, rested

Z80 = 1.2815515655446004
"""Standard normal deviate of an 80 % interval."""

FEWEST = 3
"""Fewer graded attempts of a task than this are too few to show a needle."""

STALE_BELOW = 0.6
"""A task whose retention has fallen below this is stale: it wants flying again."""

LONGEST_WAIT = 730
"""How far ahead `days_until_stale` looks, in days."""


@dataclass(frozen=True, slots=True)
class Skill:
    """One student's tasks [J] as they stand on a day, for M learning speeds.

    Given ability a, skill of task j at speed m is normal with mean `offset[m, j] +
    loading[m, j] * a` and variance `residual[m, j]`; a is normal with mean `ability[m]` and
    variance `doubt[m]`; speed m has chance `weight[m]`. `path` and `lean` [M, J] are what
    offset and loading would be but for the grades. `attempts` and `idle` (days since the
    last, nan when never or unknown) are [J], `retention` [J] is the part kept since (1 when
    never practised).
    """

    tasks: tuple[str, ...]
    offset: Floats
    loading: Floats
    residual: Floats
    path: Floats
    lean: Floats
    ability: Floats
    doubt: Floats
    weight: Floats
    attempts: Floats
    idle: Floats
    retention: Floats

    @property
    def mean(self) -> Floats:
        """Mean skill [M, J]."""
        return self.offset + self.loading * self.ability[:, None]

    @property
    def variance(self) -> Floats:
        """Variance of the skill [M, J]."""
        return self.residual + self.loading**2 * self.doubt[:, None]


@dataclass(frozen=True, slots=True)
class Outlook:
    """One task: the chance 0-1 of meeting the standard next time, and its 80 % interval.

    For an instructor of average severity. With the graded attempts behind it, days since the
    last (None when never or unknown), and the part of the practice kept since.
    """

    task: str
    chance: float
    low: float
    high: float
    attempts: int
    idle: int | None
    retention: float

    @property
    def few(self) -> bool:
        """Whether there are too few grades of this task to show a needle."""
        return self.attempts < FEWEST

    @property
    def stale(self) -> bool:
        """Whether it was practised, and too much of that has faded since."""
        return self.attempts > 0 and self.retention < STALE_BELOW


def skill(
    beliefs: Beliefs | None, parameters: Parameters, tasks: Sequence[str], day: float
) -> Skill:
    """Skill in the named tasks on a day number, rested since each was last flown.

    Beliefs of None, and tasks never met, stand at the start of their curve.
    """
    speeds = parameters.nodes
    start = np.array([parameters.curve(name).start for name in tasks], float)
    first = _first_variance(parameters, tasks)
    offset, loading = np.tile(start, (speeds, 1)), np.ones((speeds, len(tasks)))
    residual = np.tile(first, (speeds, 1))
    path, lean = offset.copy(), loading.copy()
    attempts, idle = np.zeros(len(tasks)), np.full(len(tasks), np.nan)
    if beliefs is not None:
        at, column = beliefs.met(tasks)
        offset[:, at], loading[:, at] = beliefs.offset[:, column], beliefs.loading[:, column]
        residual[:, at] = beliefs.residual[:, column]
        path[:, at], lean[:, at] = beliefs.path[:, column], beliefs.lean[:, column]
        attempts[at], idle[at] = beliefs.attempts[column], day - beliefs.last_day[column]
    rest = np.maximum(np.nan_to_num(idle, nan=0.0), 0.0)
    keep = retention(parameters, rest, attempts)
    precision = (
        beliefs.precision if beliefs else np.full(speeds, 1 / parameters.spread.ability**2)
    )
    pull = beliefs.pull if beliefs else np.zeros(speeds)
    now = rested((offset, loading, residual), keep, start, parameters.spread.rest**2 * rest)
    return Skill(
        tuple(tasks),
        *now,
        *faded((path, lean), keep, start),
        ability=pull / precision,
        doubt=1 / precision,
        weight=beliefs.weight if beliefs else speed_nodes(speeds)[1],
        attempts=attempts,
        idle=idle,
        retention=np.where(attempts > 0, keep, 1.0),
    )


def ability(beliefs: Beliefs) -> tuple[float, float]:
    """Mean and standard deviation of the ability behind all tasks."""
    mean = beliefs.pull / beliefs.precision
    middle = float(beliefs.weight @ mean)
    square = float(beliefs.weight @ (mean**2 + 1 / beliefs.precision))
    return middle, float(np.sqrt(max(0.0, square - middle**2)))


def _first_variance(parameters: Parameters, tasks: Sequence[str]) -> Floats:
    unsure = np.array([parameters.curve(name).unsure for name in tasks], float)
    return np.asarray(parameters.spread.deviation**2 + unsure**2, float)


def retention(parameters: Parameters, days: Floats, attempts: Floats) -> Floats:
    """The part 0-1 of what practice brought that is left after so many days without."""
    return np.exp(-days / lasting(parameters.spread, attempts))


def lasting(spread: Spread, attempts: Floats) -> Floats:
    """Days after which 1/e of what so many attempts brought is left."""
    return np.asarray(spread.retention * (1 + attempts) ** spread.durability, float)


def outlooks(known: Skill, parameters: Parameters) -> dict[str, Outlook]:
    """The outlook of every task, by name."""
    chance, low, high = chance_and_interval(
        known.weight[:, None], known.mean, known.variance, parameters
    )
    return {
        name: Outlook(
            name,
            chance=float(chance[at]),
            low=float(low[at]),
            high=float(high[at]),
            attempts=int(known.attempts[at]),
            idle=None if np.isnan(known.idle[at]) else int(known.idle[at]),
            retention=float(known.retention[at]),
        )
        for at, name in enumerate(known.tasks)
    }


def chance_and_interval(
    weight: Floats, mean: Floats, variance: Floats, parameters: Parameters
) -> tuple[Floats, Floats, Floats]:
    """Chance [J] of meeting the standard and its 80 % interval.

    The skill is normal with `mean` and `variance` [M, J] with chance `weight` [M, J or 1];
    `parameters` tell how days vary, by how much means have to be stretched, and how much wider
    an interval has to be. The chance is a mean: where the chances believed in lie almost all at
    one end, a few far ones can draw it past their ninth tenth, and then the interval reaches as
    far as the chance.
    """
    mean = parameters.slope * mean
    chance = (weight * ndtr(probits(mean, variance, parameters))).sum(axis=0)
    chance = np.minimum(chance, 1.0)  # weights that sum to 1 but for the last digit
    middle = (weight * mean).sum(axis=0)
    whole = (weight * (variance + (mean - middle) ** 2)).sum(axis=0)
    reach = Z80 * np.sqrt(parameters.widening * whole)
    root = np.sqrt(1 + parameters.spread.day**2)
    low, high = ndtr((middle - reach) / root), ndtr((middle + reach) / root)
    return chance, np.minimum(low, chance), np.maximum(high, chance)


def probits(mean: Floats, variance: Floats, parameters: Parameters) -> Floats:
    """The chance of meeting the standard [M, J] by speed, as a standard normal deviate."""
    return np.asarray(mean / np.sqrt(variance + parameters.spread.day**2 + 1))


def days_until_stale(parameters: Parameters, attempts: int) -> int:
    """Days without practice after which a task is stale; at most `LONGEST_WAIT`."""
    lasts = float(lasting(parameters.spread, np.array(attempts, float)))
    return int(min(LONGEST_WAIT, np.floor(-np.log(STALE_BELOW) * lasts) + 1))
