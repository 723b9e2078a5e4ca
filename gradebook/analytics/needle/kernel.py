"""The filter: one lesson after another, every student in step.

What a sitting's grades say is worked out in `sites` and taken in exactly in `sitting`; between
sittings skills are practised and rest (`steps`). Axes: [M speeds, Q parameter sets, lanes or
rows].
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from gradebook.analytics.needle.beliefs import Beliefs
from gradebook.analytics.needle.coefficients import Coefficients
from gradebook.analytics.needle.floats import Flags, Floats, Ints
from gradebook.analytics.needle.march import March
from gradebook.analytics.needle.sites import Marks, sites_of
from gradebook.analytics.needle.sitting import Group, Shared, density, seen
from gradebook.analytics.needle.steps import Skill, faded, practised, rested, walked


@dataclass(slots=True)
class Minds:
    """Beliefs about every student while the march goes on; see `Beliefs` for the meaning.

    `offset`, `loading`, `residual`, `path`, `lean` are [M, Q, pairs]; `weight`, `precision`,
    `pull` [M, Q, lanes]. The same three as they stood when the running lesson opened:
    `then_...`.
    """

    offset: Floats
    loading: Floats
    residual: Floats
    path: Floats
    lean: Floats
    weight: Floats
    precision: Floats
    pull: Floats
    then_weight: Floats
    then_precision: Floats
    then_pull: Floats


@dataclass(frozen=True, slots=True)
class Run:
    """What a march left behind, in the order of the log.

    `log_chance` [Q, N]: log of the chance given to all grades of a sitting together just before
    it was seen, shared out among them. `beside` [Q, N]: log of the chance of each grade, given
    the other grades of its sitting. `mean`, `variance`, `weight` [M, N] of the skill before the
    grade's lesson, for the first parameter set; empty unless they were asked for.
    """

    minds: Minds
    log_chance: Floats
    beside: Floats
    mean: Floats
    variance: Floats
    weight: Floats


@dataclass(frozen=True, slots=True)
class _Rows:
    """What each row brings, in march order: [Q, N], `gain` [M, Q, N].

    Then `carry`, `hold`, `day` [Q, 1] and `sweeps`, as in the coefficients.
    """

    start: Floats
    plateau: Floats
    gain: Floats
    keep: Floats
    drift: Floats
    low: Floats
    high: Floats
    noise: Floats
    practice: Floats
    carry: Floats
    hold: Floats
    day: Floats
    sweeps: int


def run(steps: March, known: Coefficients, before: Beliefs | None, record: bool) -> Run:
    """Take in every grade of a march; `before` continues one student (Q = 1)."""
    rows, minds = _rows(steps, known), _begin(steps, known, before)
    n_speeds, n_sets, n = len(known.weights), len(known.start), len(steps)
    chance = np.empty((2, n_sets, n))
    kept = np.empty((3, n_speeds, n if record else 0))
    for left, right in pairwise(steps.sittings.tolist()):
        edges = steps.edges[left : right + 1]
        here = slice(int(edges[0]), int(edges[-1]))
        pair, lane = steps.pair[here], steps.lane[here]
        group = Group(lane, edges[:-1] - edges[0], np.diff(edges).astype(float))
        _open(minds, steps.opens[left:right])
        skill = _rested(minds, rows, pair, here)
        if record:
            kept[:, :, here] = _forecast(minds, skill, lane)
        skill, chance[:, :, here] = _graded(minds, rows, skill, here, group)
        _practised(minds, rows, skill, pair, here)
    out = np.empty_like(chance)
    out[:, :, steps.row] = chance
    by_row = np.empty_like(kept)
    if record:
        by_row[:, :, steps.row] = kept[:, :, steps.first]
    return Run(minds, *out, *by_row)


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
        practice=known.practice[:, task],
        carry=known.carry,
        hold=known.hold,
        day=known.day,
        sweeps=known.sweeps,
    )


def _begin(steps: March, known: Coefficients, before: Beliefs | None) -> Minds:
    shape = (len(known.weights), len(known.start))
    lanes, pairs = len(steps.lanes), len(steps.pair_task)
    offset = np.broadcast_to(known.start[:, steps.pair_task], (*shape, pairs)).copy()
    residual = np.broadcast_to(known.first[:, steps.pair_task], (*shape, pairs)).copy()
    loading = np.ones((*shape, pairs))
    path, lean = offset.copy(), loading.copy()
    weight = np.broadcast_to(known.weights[:, None, None], (*shape, lanes)).copy()
    precision = np.broadcast_to(1 / known.ability, (*shape, lanes)).copy()
    pull = np.zeros((*shape, lanes))
    if before is not None and lanes:
        names = [steps.log.tasks[place] for place in steps.pair_task]
        at, column = before.met(names)
        offset[:, 0, at] = before.offset[:, column]
        loading[:, 0, at] = before.loading[:, column]
        residual[:, 0, at] = before.residual[:, column]
        path[:, 0, at] = before.path[:, column]
        lean[:, 0, at] = before.lean[:, column]
        weight[:, 0, 0], precision[:, 0, 0] = before.weight, before.precision
        pull[:, 0, 0] = before.pull
    then = (weight.copy(), precision.copy(), pull.copy())
    return Minds(offset, loading, residual, path, lean, weight, precision, pull, *then)


def _open(minds: Minds, opens: Flags) -> None:
    """Note where things stand as a lesson opens."""
    live = len(opens)
    np.copyto(minds.then_weight[..., :live], minds.weight[..., :live], where=opens)
    np.copyto(minds.then_precision[..., :live], minds.precision[..., :live], where=opens)
    np.copyto(minds.then_pull[..., :live], minds.pull[..., :live], where=opens)


def _rested(minds: Minds, rows: _Rows, pair: Ints, here: slice) -> Skill:
    """Skill [M, Q, rows] after the days since it was last practised."""
    before = minds.offset[:, :, pair], minds.loading[:, :, pair], minds.residual[:, :, pair]
    return rested(before, rows.keep[:, here], rows.start[:, here], rows.drift[:, here])


def _forecast(minds: Minds, skill: Skill, lane: Ints) -> tuple[Floats, Floats, Floats]:
    """Mean, variance and weight [M, rows] before anything of this lesson is known."""
    offset, loading, residual = (part[:, 0] for part in skill)
    precision = minds.then_precision[:, 0, lane]
    mean = offset + loading * (minds.then_pull[:, 0, lane] / precision)
    return mean, residual + loading * loading / precision, minds.then_weight[:, 0, lane]


def _graded(
    minds: Minds, rows: _Rows, skill: Skill, here: slice, group: Group
) -> tuple[Skill, Floats]:
    """Skill, ability and speed after the grades of a sitting; and their log chances."""
    live = slice(len(group.size))
    shared = Shared(
        minds.precision[..., live],
        minds.pull[..., live],
        np.broadcast_to(rows.day, minds.pull[..., live].shape),
    )
    marks = Marks(rows.low[:, here], rows.high[:, here], rows.noise[:, here])
    sites = sites_of(marks, skill, shared, group, rows.sweeps)
    weight = minds.weight[..., live]
    beside = np.log((group.spread(weight) * sites.chance).sum(axis=0))
    after, now = seen(skill, shared, sites.value, sites.width, group)
    each = sites.worth + density(skill, shared, sites.value, sites.width, group)
    minds.weight[..., live], chance = _weighed(weight, each, group)
    minds.precision[..., live], minds.pull[..., live] = now.precision, now.pull
    return after, np.stack([chance, beside])


def _weighed(weight: Floats, each: Floats, group: Group) -> tuple[Floats, Floats]:
    """Weights of the speeds after a sitting, and the log chance shared out among its rows."""
    whole = group.total(each)
    top = whole.max(axis=0)
    weighted = weight * np.exp(whole - top)
    summed = weighted.sum(axis=0)
    weighted /= summed
    left = np.log(summed) + top - (weighted * whole).sum(axis=0)
    shares = (group.spread(weighted) * each).sum(axis=0)
    return weighted, shares + group.spread(left / group.size)


def _practised(minds: Minds, rows: _Rows, skill: Skill, pair: Ints, here: slice) -> None:
    """An attempt also teaches."""
    path = minds.path[:, :, pair], minds.lean[:, :, pair]
    path = faded(path, rows.keep[:, here], rows.start[:, here])
    now = walked(path, rows.gain[:, :, here], rows.plateau[:, here], rows.carry, rows.hold)
    after = practised(skill, path, now, rows.hold, rows.practice[:, here])
    minds.path[:, :, pair], minds.lean[:, :, pair] = now
    minds.offset[:, :, pair], minds.loading[:, :, pair], minds.residual[:, :, pair] = after
