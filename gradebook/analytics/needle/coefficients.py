"""Parameters as the arrays the kernel multiplies: Q sets of them side by side."""

from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter

import numpy as np

from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.parameters import (
    Parameters,
    Spread,
    TaskCurve,
    default_cuts,
    speed_nodes,
)
from gradebook.analytics.needle.sites import SWEEPS
from gradebook.analytics.needle.steps import gains

FAR = 1000.0
"""Stands for infinity at the ends of a scale, where infinity times zero would be nothing."""

_SPREAD = attrgetter(*Spread.__dataclass_fields__)
_CURVE = attrgetter(*TaskCurve.__dataclass_fields__)


@dataclass(frozen=True, slots=True)
class Names:
    """The tasks, instructors and scales the columns of the arrays stand for."""

    tasks: Sequence[str]
    instructors: Sequence[str]
    scales: Sequence[str]


@dataclass(frozen=True, slots=True)
class Values:
    """One set of values in columns.

    `spread` [10] as in `Spread`, `curves` [5, tasks] as in `TaskCurve`, `hands` [3,
    instructors] (severity, spread, standard error), `cuts` [scales, K + 1] with the ends at
    -FAR and FAR (scales of fewer levels repeat FAR).
    """

    spread: Floats
    curves: Floats
    hands: Floats
    cuts: Floats


def values_of(parameters: Parameters, names: Names) -> Values:
    """The columns of these names; KeyError for a scale without cuts."""
    hands = [parameters.hand(name) for name in names.instructors]
    curves = np.array([_CURVE(parameters.curve(name)) for name in names.tasks], float)
    cuts = [parameters.cuts[name] for name in names.scales]
    return Values(
        np.array(_SPREAD(parameters.spread), float),
        curves.reshape(-1, 5).T,
        np.array([[h.severity, h.spread, h.error] for h in hands], float).reshape(-1, 3).T,
        cut_table(cuts),
    )


def cut_table(cuts: Sequence[Sequence[float] | Floats]) -> Floats:
    """Thresholds by scale and level [scales, K + 1], ends included."""
    width = max((len(one) for one in cuts), default=0) + 2
    table = np.full((len(cuts), width), FAR)
    for row, one in enumerate(cuts):
        table[row, 0] = -FAR
        table[row, 1 : len(one) + 1] = one
    return table


@dataclass(frozen=True, slots=True)
class Coefficients:
    """Q sets at once; M learning speeds.

    `start`, `plateau`, `first` (variance before the first attempt), `practice` (variance that
    an attempt adds) are [Q, tasks], `gain` (the part of the way to the plateau one attempt
    goes) [M, Q, tasks], `severity`, `stretch` and `murk` (variance of the severity) [Q,
    instructors], `cuts` [Q, scales, K + 1], `weights` [M]; the rest [Q, 1]: variances of
    `ability`, `rest` (a day) and `day`, `retention` in days, `durability`, `carry`, `hold`.
    Each grade of a sitting is worked out `sweeps` times against the others.
    """

    start: Floats
    plateau: Floats
    first: Floats
    gain: Floats
    severity: Floats
    stretch: Floats
    murk: Floats
    cuts: Floats
    weights: Floats
    ability: Floats
    practice: Floats
    rest: Floats
    day: Floats
    retention: Floats
    durability: Floats
    carry: Floats
    hold: Floats
    sweeps: int


def coefficients(sets: Sequence[Values], nodes: int, sweeps: int = SWEEPS) -> Coefficients:
    """Stack Q sets of values for M = `nodes` learning speeds."""
    spread = np.stack([one.spread for one in sets])[:, :, None]
    curves = np.stack([one.curves for one in sets])
    hands = np.stack([one.hands for one in sets])
    ability, deviation, practice, rest, day, retention, speed, durability, carry, hold = (
        spread[:, place] for place in range(spread.shape[1])
    )
    return Coefficients(
        start=curves[:, 0],
        plateau=curves[:, 1],
        first=deviation**2 + curves[:, 3] ** 2,
        gain=gains(curves[:, 2], speed, nodes),
        severity=hands[:, 0],
        stretch=hands[:, 1],
        murk=hands[:, 2] ** 2,
        cuts=np.stack([one.cuts for one in sets]),
        weights=speed_nodes(nodes)[1],
        ability=ability**2,
        practice=practice**2 + (1 - hold**2) * curves[:, 4] ** 2,
        rest=rest**2,
        day=day**2,
        retention=retention,
        durability=durability,
        carry=carry,
        hold=hold,
        sweeps=sweeps,
    )


def default_parameters(scales: Sequence[tuple[str, int, int]]) -> Parameters:
    """The published defaults for scales given as (name, levels, standard)."""
    cuts = {name: default_cuts(levels, standard) for name, levels, standard in scales}
    return Parameters(cuts=cuts, spread=Spread())
