"""The steps of a skill between lessons, linear and normal: it is practised, it rests.

The filter, the outlook, the simulated futures and the suggestion all take these. A skill is its
offset, loading and residual: given ability a it is normal with mean offset + loading * a and
variance residual. Every step works element by element, whatever the shape.
"""

import numpy as np

from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.parameters import Spread, speed_nodes

Skill = tuple[Floats, Floats, Floats]
"""Offset, loading and residual."""

Path = tuple[Floats, Floats]
"""Offset and loading that practice and rest alone would have brought, whatever the grades."""


def gains(rate: Floats, speed: Floats | float, nodes: int) -> Floats:
    """The part of the way to its plateau that one attempt takes a task, by learning speed.

    `rate` at the middle speed and the spread `speed` of its log, of any one shape; one axis of
    `nodes` speeds comes first.
    """
    points = speed_nodes(nodes)[0].reshape(-1, *[1] * np.ndim(rate))
    return np.asarray(1 - (1 - rate) ** np.exp(speed * points), float)


def toward(value: Floats, goal: Floats | float, part: Floats) -> Floats:
    """A value gone part of the way, 0-1, to its goal."""
    return np.asarray((1 - part) * value + part * goal, float)


def held(value: Floats, path: Floats, now: Floats, hold: Floats | float) -> Floats:
    """A value whose path went to `now`: the part `hold` of what it is off the path stays."""
    return np.asarray(now + hold * (value - path), float)


def kept(value: Floats, start: Floats | float, keep: Floats) -> Floats:
    """A value of whose way from its start the part `keep` is left."""
    return np.asarray(start + keep * (value - start), float)


def jolt(spread: Spread, vague: Floats) -> Floats:
    """Variance that an attempt adds: practice differs, and the plateau is known so `vague`ly.

    `vague` is its standard error; what is held and what is added make up its square.
    """
    return np.asarray(spread.practice**2 + (1 - spread.hold**2) * vague**2, float)


def walked(
    path: Path, gain: Floats, plateau: Floats, carry: Floats | float, hold: Floats | float
) -> Path:
    """The path after an attempt: part of the way to the plateau.

    On the plateau ability still shows in the part `carry`. It fades from the path no faster
    than what a skill is off it, of which the part `hold` stays: else who is as good as an abler
    student would be taken for the better one next time, and a better grade elsewhere would
    lower this skill.
    """
    lean = np.maximum(toward(path[1], carry, gain), hold * path[1])
    return toward(path[0], plateau, gain), np.asarray(lean, float)


def practised(
    skill: Skill, path: Path, now: Path, hold: Floats | float, noise: Floats | float
) -> Skill:
    """Skill after an attempt has brought its path to where it is `now`.

    Of what the skill was off its path the part `hold` stays, with `noise` more of variance.
    """
    offset, loading, residual = skill
    return (
        held(offset, path[0], now[0], hold),
        held(loading, path[1], now[1], hold),
        hold * hold * residual + noise,
    )


def faded(path: Path, keep: Floats, start: Floats) -> Path:
    """The path after days without: what is kept of the way from its start."""
    return kept(path[0], start, keep), kept(path[1], 1.0, keep)


def rested(skill: Skill, keep: Floats, start: Floats, noise: Floats | float) -> Skill:
    """Skill after days without: what is kept of the way from its start, and less sure."""
    offset, loading, residual = skill
    return (
        kept(offset, start, keep),
        kept(loading, 1.0, keep),
        keep * keep * residual + noise,
    )
