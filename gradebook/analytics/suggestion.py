"""What to fly next: the tasks that most raise the chance of passing for their minutes."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from gradebook.analytics.needle import steps
from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.outlook import Skill
from gradebook.analytics.needle.parameters import Parameters
from gradebook.analytics.readiness import grid

LEAST_GAIN = 0.01
"""A task that raises the chance of passing by less than this part of itself is left out."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What is known of the lesson: its `minutes`, and the minutes `each` task takes.

    `watched` and `stale` tasks come first, whatever they gain.
    """

    minutes: float
    each: Mapping[str, float]
    watched: Collection[str] = ()
    stale: Collection[str] = ()


@dataclass(frozen=True, slots=True)
class Pick:
    """A task suggested, in the order of picking.

    `gain` is how much one attempt raises the chance of passing (0-1), `before` and `after` are
    the task's own chance.
    """

    task: str
    why: str
    gain: float
    before: float
    after: float
    minutes: float


WATCHED, STALE, GAIN = "open watch item", "not flown for long", "raises the chance most"


def suggest(known: Skill, parameters: Parameters, wish: Wish) -> tuple[Pick, ...]:
    """Tasks of `known` that fit into the lesson's minutes, the most urgent first.

    Watched tasks first, then stale ones, each by gain a minute; then the rest by gain a
    minute. Nothing fits, or no task: an empty tuple. At least the first is suggested even when
    its minutes alone are more than the lesson's.
    """
    before, after = grid(known, parameters), grid(practised(known, parameters), parameters)
    chance = before.chance.copy()
    left, picks = list(range(len(known.tasks))), list[Pick]()
    minutes = wish.minutes
    singly = (before.weight @ before.chance, after.weight @ after.chance)
    while left:
        gains = _gains(chance, after.chance, before.weight, left)
        at = max(left, key=lambda one: _urgency(known.tasks[one], gains[one], wish))
        name = known.tasks[at]
        left.remove(at)
        whole = float(before.weight @ chance.prod(axis=1))
        if not _is_worth(name, gains[at] / max(whole, 1e-300), wish):
            continue
        if wish.each[name] > minutes and picks:
            continue
        minutes -= wish.each[name]
        ends = (float(singly[0][at]), float(singly[1][at]))
        picks.append(Pick(name, _why(name, wish), gains[at], *ends, wish.each[name]))
        chance[:, at] = after.chance[:, at]
    return tuple(picks)


def _is_worth(task: str, gain: float, wish: Wish) -> bool:
    """Whether an attempt changes anything, or the task comes first whatever it gains."""
    return task in wish.watched or task in wish.stale or gain >= LEAST_GAIN


def _gains(chance: Floats, after: Floats, weight: Floats, left: list[int]) -> dict[int, float]:
    """How much one attempt of each task raises the chance that all meet the standard."""
    whole = chance.prod(axis=1)
    floor = np.maximum(chance, 1e-12)
    return {
        at: float(weight @ (whole / floor[:, at] * (after[:, at] - chance[:, at])))
        for at in left
    }


def _urgency(task: str, gain: float, wish: Wish) -> tuple[bool, bool, float]:
    return task in wish.watched, task in wish.stale, gain / wish.each[task]


def _why(task: str, wish: Wish) -> str:
    if task in wish.watched:
        return WATCHED
    return STALE if task in wish.stale else GAIN


def practised(known: Skill, parameters: Parameters) -> Skill:
    """Skill after one more attempt of every task."""
    curves = [parameters.curve(name) for name in known.tasks]
    rate, plateau, vague = (
        np.array([getattr(one, part) for one in curves])
        for part in ("rate", "plateau", "vague")
    )
    spread = parameters.spread
    before = known.path, known.lean
    gain = steps.gains(rate, spread.speed, parameters.nodes)
    path, lean = steps.walked(before, gain, plateau, spread.carry, spread.hold)
    offset, loading, residual = steps.practised(
        (known.offset, known.loading, known.residual),
        before,
        (path, lean),
        spread.hold,
        steps.jolt(spread, vague),
    )
    return replace(
        known,
        offset=offset,
        loading=loading,
        residual=residual,
        path=path,
        lean=lean,
        attempts=known.attempts + 1,
    )


def renamed(pick: Pick, task: str) -> Pick:
    """The same pick under the name the reader knows the task by."""
    return replace(pick, task=task)
