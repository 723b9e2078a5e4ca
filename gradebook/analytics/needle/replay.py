"""From grades to beliefs: a whole school at once, or one student's next lesson."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from gradebook.analytics.needle.beliefs import Beliefs
from gradebook.analytics.needle.coefficients import Coefficients, Names, coefficients, values_of
from gradebook.analytics.needle.floats import Floats, Ints
from gradebook.analytics.needle.kernel import Minds, Run, run
from gradebook.analytics.needle.log import GradeLog
from gradebook.analytics.needle.march import March, march
from gradebook.analytics.needle.parameters import Parameters

LANES = 256
"""Students marched together: few enough that the arrays stay near the processor."""


@dataclass(frozen=True, slots=True)
class Replay:
    """Forecasts of every grade before its lesson was seen, and each student's beliefs after.

    `mean`, `variance`, `weight` [M, N] of the skill, in the order of the log; `log_chance` [N].
    """

    log: GradeLog
    mean: Floats
    variance: Floats
    weight: Floats
    log_chance: Floats
    beliefs: dict[str, Beliefs]


def names_of(log: GradeLog) -> Names:
    """The names the columns of a log stand for."""
    return Names(log.tasks, log.instructors, log.scales)


def prepared(log: GradeLog, parameters: Parameters) -> Coefficients:
    """The parameters as the kernel needs them for this log (Q = 1)."""
    return coefficients([values_of(parameters, names_of(log))], parameters.nodes)


def replay(log: GradeLog, parameters: Parameters) -> Replay:
    """Follow every student from the first grade to the last."""
    known, speeds = prepared(log, parameters), parameters.nodes
    kept = np.empty((3, speeds, len(log)))
    chance, beliefs = np.empty(len(log)), dict[str, Beliefs]()
    for rows, steps in blocks(log):
        done = run(steps, known, None, record=True)
        kept[:, :, rows] = np.stack([done.mean, done.variance, done.weight])
        chance[rows] = done.log_chance[0]
        beliefs.update(_beliefs(steps, done))
    mean, variance, weight = kept
    return Replay(log, mean, variance, weight, chance, beliefs)


def advance(log: GradeLog, parameters: Parameters, before: Beliefs | None) -> Replay:
    """Follow one student through newer grades than `before` knows: the same arithmetic.

    ValueError when the log holds more than one student.
    """
    if len(log.students) > 1:
        raise ValueError("Beliefs are about one student at a time.")
    steps = march(log, before)
    done = run(steps, prepared(log, parameters), before, record=True)
    after = {name: merged(before, one) for name, one in _beliefs(steps, done)}
    return Replay(log, done.mean, done.variance, done.weight, done.log_chance[0], after)


def blocks(log: GradeLog, lanes: int = LANES) -> Iterator[tuple[Ints, March]]:
    """The log cut into marches of so many students, with the rows of each."""
    present = np.unique(log.student)
    for first in range(0, len(present), lanes):
        inside = np.isin(log.student, present[first : first + lanes])
        rows = np.flatnonzero(inside)
        yield rows, march(log if len(rows) == len(log) else log.rows(inside))


def _beliefs(steps: March, done: Run) -> Iterator[tuple[str, Beliefs]]:
    """The beliefs of every student that has a grade in the march."""
    minds, log = done.minds, steps.log
    attempts, last = _attempts(steps)
    order = np.argsort(steps.pair_lane, kind="stable")
    edges = np.searchsorted(steps.pair_lane[order], np.arange(len(steps.lanes) + 1))
    for lane, student in enumerate(steps.lanes.tolist()):
        pairs = order[edges[lane] : edges[lane + 1]]
        if len(pairs):
            tasks = tuple(log.tasks[place] for place in steps.pair_task[pairs])
            counts = (attempts[pairs], last[pairs])
            yield log.students[student], _one(minds, tasks, pairs, lane, counts)


def _one(
    minds: Minds, tasks: tuple[str, ...], pairs: Ints, lane: int, counts: tuple[Floats, Floats]
) -> Beliefs:
    return Beliefs(
        tasks,
        minds.offset[:, 0, pairs],
        minds.loading[:, 0, pairs],
        minds.residual[:, 0, pairs],
        minds.path[:, 0, pairs],
        minds.lean[:, 0, pairs],
        *counts,
        minds.weight[:, 0, lane],
        minds.precision[:, 0, lane],
        minds.pull[:, 0, lane],
    )


def _attempts(steps: March) -> tuple[Floats, Floats]:
    """Attempts and the day of the last one, by pair."""
    attempts = np.zeros(len(steps.pair_task))
    last = np.full(len(steps.pair_task), np.nan)
    attempts[steps.pair] = steps.before + 1  # later steps write over earlier
    last[steps.pair] = steps.log.day[steps.row]
    return attempts, last


def merged(before: Beliefs | None, after: Beliefs) -> Beliefs:
    """Tasks not met in the newer lessons stay as they were; columns in order of task name."""
    if before is None:
        return after
    column = {name: at for at, name in enumerate((*before.tasks, *after.tasks))}
    names = sorted(column)
    newest = np.array([column[name] for name in names], np.intp)

    def joined(left: Floats, right: Floats) -> Floats:
        return np.concatenate([left, right], axis=-1).take(newest, axis=-1)

    return Beliefs(
        tuple(names),
        joined(before.offset, after.offset),
        joined(before.loading, after.loading),
        joined(before.residual, after.residual),
        joined(before.path, after.path),
        joined(before.lean, after.lean),
        joined(before.attempts, after.attempts),
        joined(before.last_day, after.last_day),
        after.weight,
        after.precision,
        after.pull,
    )
