"""The filter: one grade after another, every student in step.

Assumed-density filtering of an ordered probit (moments matched grade by grade), exact in all
else: see T. Minka, 'A family of algorithms for approximate Bayesian inference' (MIT, 2001) for
the method, and E. Lesaffre and A. Kaufmann, 'Existence and uniqueness of the maximum likelihood
estimator for a multivariate probit model', JASA 87 (1992) 805-811, for the log-concavity that
keeps every step proper. Axes: [M speeds, Q parameter sets, lanes].
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.special import ndtr

from gradebook.analytics.needle.beliefs import Beliefs
from gradebook.analytics.needle.coefficients import Coefficients
from gradebook.analytics.needle.floats import Flags, Floats, Ints
from gradebook.analytics.needle.march import March
from gradebook.analytics.needle.steps import Skill, practised, rested, seen

ROOT_TWO_PI = float(np.sqrt(2 * np.pi))
LEAST = 1e-300


@dataclass(slots=True)
class Minds:
    """Beliefs about every student while the march goes on; see `Beliefs` for the meaning.

    `offset`, `loading`, `residual` are [M, Q, pairs]; `weight`, `precision`, `pull` [M, Q,
    lanes]. The same three as they stood when the running lesson opened: `then_...`. `mood` and
    `doubt` [Q, lanes]: mean and variance of the running lesson's day effect.
    """

    offset: Floats
    loading: Floats
    residual: Floats
    weight: Floats
    precision: Floats
    pull: Floats
    then_weight: Floats
    then_precision: Floats
    then_pull: Floats
    mood: Floats
    doubt: Floats


@dataclass(frozen=True, slots=True)
class Run:
    """What a march left behind.

    `log_chance` [Q, N], in the order of the log: log of the chance given to each grade just
    before it was seen. `mean`, `variance`, `weight` [M, N] of the skill before the grade's
    lesson, for the first parameter set; empty unless they were asked for.
    """

    minds: Minds
    log_chance: Floats
    mean: Floats
    variance: Floats
    weight: Floats


@dataclass(frozen=True, slots=True)
class _Rows:
    """What each row brings, in march order: [Q, N], `gain` [M, Q, N]; the last two [Q, 1]."""

    start: Floats
    plateau: Floats
    gain: Floats
    keep: Floats
    drift: Floats
    low: Floats
    high: Floats
    noise: Floats
    carry: Floats
    practice: Floats


def run(steps: March, known: Coefficients, before: Beliefs | None, record: bool) -> Run:
    """Take in every grade of a march; `before` continues one student (Q = 1)."""
    rows, minds = _rows(steps, known), _begin(steps, known, before)
    n_speeds, n_sets, n = len(known.weights), len(known.start), len(steps)
    chance = np.empty((n_sets, n))
    kept = np.empty((3, n_speeds, n)) if record else np.empty((3, n_speeds, 0))
    bounds = steps.bounds.tolist()
    for step, (left, right) in enumerate(pairwise(bounds)):
        live = right - left
        if steps.fresh[step]:
            _open(minds, known, live, None if steps.even[step] else steps.opens[left:right])
        here, pair = slice(left, right), steps.pair[left:right]
        skill = _rested(minds, rows, pair, here)
        if record:
            kept[:, :, here] = _forecast(minds, skill, live)
        skill, chance[:, here] = _graded(minds, rows, skill, here, live)
        _practised(minds, rows, skill, pair, here)
    out = np.empty_like(chance)
    out[:, steps.row] = chance
    if record:
        by_row = np.empty_like(kept)
        by_row[:, :, steps.row] = kept[:, :, steps.first]
        kept = by_row
    return Run(minds, out, *kept)


def _rows(steps: March, known: Coefficients) -> _Rows:
    log = steps.log
    task, hand, grade = log.task[steps.row], log.instructor[steps.row], log.grade[steps.row]
    scale = log.scale[task]
    stretch, severity = known.stretch[:, hand], known.severity[:, hand]
    keep = np.exp(-steps.rest / (known.retention * (1 + steps.before) ** known.durability))
    return _Rows(
        start=known.start[:, task],
        plateau=known.plateau[:, task],
        gain=known.gain[:, :, task],
        keep=keep,
        drift=known.rest * steps.rest,
        low=known.cuts[:, scale, grade - 1] * stretch + severity,
        high=known.cuts[:, scale, grade] * stretch + severity,
        noise=1 + known.murk[:, hand],
        carry=known.carry,
        practice=known.practice,
    )


def _begin(steps: March, known: Coefficients, before: Beliefs | None) -> Minds:
    shape = (len(known.weights), len(known.start))
    lanes, pairs = len(steps.lanes), len(steps.pair_task)
    offset = np.broadcast_to(known.start[:, steps.pair_task], (*shape, pairs)).copy()
    residual = np.broadcast_to(known.first[:, steps.pair_task], (*shape, pairs)).copy()
    loading = np.ones((*shape, pairs))
    weight = np.broadcast_to(known.weights[:, None, None], (*shape, lanes)).copy()
    precision = np.broadcast_to(1 / known.ability, (*shape, lanes)).copy()
    pull = np.zeros((*shape, lanes))
    if before is not None and lanes:
        names = [steps.log.tasks[place] for place in steps.pair_task]
        for at, place in enumerate(before.places(names)):
            if place is not None:
                offset[:, 0, at] = before.offset[:, place]
                loading[:, 0, at] = before.loading[:, place]
                residual[:, 0, at] = before.residual[:, place]
        weight[:, 0, 0], precision[:, 0, 0] = before.weight, before.precision
        pull[:, 0, 0] = before.pull
    then = (weight.copy(), precision.copy(), pull.copy())
    mood, doubt = np.zeros((shape[1], lanes)), np.zeros((shape[1], lanes))
    return Minds(offset, loading, residual, weight, precision, pull, *then, mood, doubt)


def _open(minds: Minds, known: Coefficients, live: int, opens: Flags | None) -> None:
    """Note where things stand as a lesson opens, and forget the day before."""
    where = True if opens is None else opens
    np.copyto(minds.then_weight[..., :live], minds.weight[..., :live], where=where)
    np.copyto(minds.then_precision[..., :live], minds.precision[..., :live], where=where)
    np.copyto(minds.then_pull[..., :live], minds.pull[..., :live], where=where)
    np.copyto(minds.mood[:, :live], 0.0, where=where)
    np.copyto(minds.doubt[:, :live], known.day, where=where)


def _rested(minds: Minds, rows: _Rows, pair: Ints, here: slice) -> Skill:
    """Skill [M, Q, lanes] after the days since it was last practised."""
    before = minds.offset[:, :, pair], minds.loading[:, :, pair], minds.residual[:, :, pair]
    return rested(before, rows.keep[:, here], rows.start[:, here], rows.drift[:, here])


def _forecast(minds: Minds, skill: Skill, live: int) -> tuple[Floats, Floats, Floats]:
    """Mean, variance and weight [M, lanes] before anything of this lesson is known."""
    offset, loading, residual = (part[:, 0] for part in skill)
    precision = minds.then_precision[:, 0, :live]
    mean = offset + loading * (minds.then_pull[:, 0, :live] / precision)
    return mean, residual + loading * loading / precision, minds.then_weight[:, 0, :live]


def _graded(
    minds: Minds, rows: _Rows, skill: Skill, here: slice, live: int
) -> tuple[Skill, Floats]:
    """Skill, ability, speed and day after one grade; and the log chance it was given."""
    offset, loading, residual = skill
    precision, pull = minds.precision[..., :live], minds.pull[..., :live]
    mood, doubt = minds.mood[:, :live], minds.doubt[:, :live]
    expected = offset + loading * (pull / precision)
    variance = residual + loading * loading / precision
    total = variance + doubt + rows.noise[:, here]
    chance, slope, bend = _moments(
        rows.low[:, here], rows.high[:, here], expected + mood, total
    )
    after, known = seen(skill, (precision, pull), expected + slope / bend, 1 / bend - variance)
    minds.precision[..., :live], minds.pull[..., :live] = known
    weighted = minds.weight[..., :live] * chance
    whole = weighted.sum(axis=0)
    weighted /= whole
    minds.weight[..., :live] = weighted
    mood += doubt * (weighted * slope).sum(axis=0)
    doubt *= 1 - doubt * (weighted * bend).sum(axis=0)
    return after, np.log(whole)


def _moments(
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
    return chance, slope, np.clip(bend, 1e-9, (1 - 1e-9) / total)


def _practised(minds: Minds, rows: _Rows, skill: Skill, pair: Ints, here: slice) -> None:
    """An attempt also teaches."""
    after = practised(
        skill, rows.gain[:, :, here], rows.plateau[:, here], rows.carry, rows.practice
    )
    minds.offset[:, :, pair], minds.loading[:, :, pair], minds.residual[:, :, pair] = after
