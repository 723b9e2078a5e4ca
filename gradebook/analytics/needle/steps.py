"""The steps of a skill between lessons, linear and normal: it is practised, it rests.

The filter, the outlook, the simulated futures and the suggestion all take these. A skill is its
offset, loading and residual: given ability a it is normal with mean offset + loading * a and
variance residual. Every step works element by element, whatever the shape.
"""

import numpy as np

from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.parameters import speed_nodes

Skill = tuple[Floats, Floats, Floats]
"""Offset, loading and residual."""


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


def practised(
    skill: Skill, gain: Floats, plateau: Floats, carry: Floats | float, noise: Floats | float
) -> Skill:
    """Skill after an attempt: part of the way to the plateau, and `noise` more of variance.

    On the plateau ability still shows in the part `carry`.
    """
    offset, loading, residual = skill
    stay = 1 - gain
    return (
        toward(offset, plateau, gain),
        toward(loading, carry, gain),
        stay * stay * residual + noise,
    )


def rested(skill: Skill, keep: Floats, start: Floats, noise: Floats | float) -> Skill:
    """Skill after days without: what is kept of the way from its start, and less sure."""
    offset, loading, residual = skill
    return (
        start + keep * (offset - start),
        1 + keep * (loading - 1),
        keep * keep * residual + noise,
    )
