"""Grades as normal observations: what each says beside the others of its sitting.

Expectation propagation of an ordered probit: each grade acts like a normal observation of the
skill shown, worked out against what the other grades say of the student and of the day, all at
once; so the order of a lesson's grades does not matter. T. Minka, 'A family of algorithms for
approximate Bayesian inference' (MIT, 2001), for the method and its evidence; E. Lesaffre and
A. Kaufmann, 'Existence and uniqueness of the maximum likelihood estimator for a multivariate
probit model', JASA 87 (1992) 805-811, for the log-concavity that keeps every step proper.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr

from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.sitting import (
    LOG_ROOT_TWO_PI,
    Evidence,
    Group,
    Shared,
    evidence,
    nothing,
    predicted,
)
from gradebook.analytics.needle.steps import Skill

ROOT_TWO_PI = float(np.sqrt(2 * np.pi))
LEAST = 1e-300
LEAST_BEND = 1e-9

SWEEPS = 3
"""How often each grade is worked out against the others; more move no chance by .001."""


@dataclass(frozen=True, slots=True)
class Marks:
    """The cuts each grade lies between, and the variance of the grader [Q, rows]."""

    low: Floats
    high: Floats
    noise: Floats


@dataclass(frozen=True, slots=True)
class Sites:
    """Each grade as a normal observation: skill on that day seen as `value`, variance `width`.

    `chance` of the grade given the others; `worth`, the log of what the grade is worth beyond
    the density of that observation.
    """

    value: Floats
    width: Floats
    chance: Floats
    worth: Floats


class _Moved(NamedTuple):
    """Where one sweep leaves the sites, and the `moments` it reckoned with."""

    value: Floats
    width: Floats
    moments: tuple[Floats, Floats, Floats]


def sites_of(marks: Marks, skill: Skill, shared: Shared, group: Group, sweeps: int) -> Sites:
    """The sites of the grades of a sitting, given what was known before it."""
    beside = shared.spread(group)
    moved = _against(marks, skill, beside, nothing(skill))
    for _ in range(sweeps - 1):
        told = evidence(skill, moved.value, moved.width)
        moved = _against(marks, skill, beside, told.of_others(group))
    chance, slope, bend = moved.moments
    worth = np.log(chance) + 0.5 * (slope * slope / bend - np.log(bend)) + LOG_ROOT_TWO_PI
    return Sites(moved.value, moved.width, chance, worth)


def _against(marks: Marks, skill: Skill, shared: Shared, others: Evidence) -> _Moved:
    mean, variance = predicted(skill, shared, others)
    chance, slope, bend = moments(marks.low, marks.high, mean, variance + marks.noise)
    return _Moved(mean + slope / bend, 1 / bend - variance, (chance, slope, bend))


def moments(
    low: Floats, high: Floats, mean: Floats, total: Floats
) -> tuple[Floats, Floats, Floats]:
    """Chance that a normal variable lies between two cuts, with its slope and bend.

    The first two derivatives of its log with respect to the mean, the second with its sign
    turned.
    """
    root = np.sqrt(total)
    upper, lower = (high - mean) / root, (low - mean) / root
    far = upper + lower > 0  # work in the tail where differences keep their digits
    chance = ndtr(np.where(far, -lower, upper)) - ndtr(np.where(far, -upper, lower))
    chance = np.maximum(chance, LEAST)
    at_upper = np.exp(-0.5 * upper * upper) / ROOT_TWO_PI
    at_lower = np.exp(-0.5 * lower * lower) / ROOT_TWO_PI
    slope = (at_lower - at_upper) / (chance * root)
    bend = slope * slope + (upper * at_upper - lower * at_lower) / (chance * total)
    return chance, slope, np.clip(bend, LEAST_BEND, (1 - 1e-9) / total)
