"""All students in step: the k-th grade of each is taken in at once.

Laid out from the grades alone, so one layout serves every set of parameters.
"""

from dataclasses import dataclass

import numpy as np

from gradebook.analytics.needle.beliefs import Beliefs
from gradebook.analytics.needle.floats import Flags, Floats, Ints
from gradebook.analytics.needle.log import GradeLog


@dataclass(frozen=True, slots=True)
class March:
    """N grades in step-major order; a lane is a student, the one with most grades first.

    Step k holds rows `bounds[k]` to `bounds[k + 1]`, lanes 0, 1, 2 ... in order. `row` [N]
    leads back to the log. A pair is one student's one task: `pair` [N], `pair_task`,
    `pair_lane` [pairs]. `rest` [N] is days since the pair's last grade (0 where unknown),
    `before` [N] its attempts so far, `opens` [N] marks a new lesson, `first` [N] the row of the
    first grade of the same task in the same lesson.
    """

    log: GradeLog
    row: Ints
    bounds: Ints
    pair: Ints
    pair_task: Ints
    pair_lane: Ints
    rest: Floats
    before: Floats
    opens: Flags
    first: Ints
    lanes: Ints
    even: Flags
    """Steps [steps] in which every lane opens a lesson."""
    fresh: Flags
    """Steps [steps] in which some lane opens a lesson."""

    def __len__(self) -> int:
        return len(self.row)


def march(log: GradeLog, known: Beliefs | None = None) -> March:
    """Lay out a log; `known` continues one student's earlier grades (a log of one student)."""
    lengths = np.bincount(log.student, minlength=len(log.students))
    lanes = np.argsort(-lengths, kind="stable")
    lane = np.argsort(lanes, kind="stable")
    starts = np.cumsum(lengths) - lengths
    step = np.arange(len(log)) - starts[log.student]
    row = np.lexsort((lane[log.student], step))
    bounds = np.concatenate([[0], np.cumsum(np.bincount(step))]).astype(np.intp)
    keys = log.student * len(log.tasks) + log.task
    pairs, pair = np.unique(keys, return_inverse=True)
    before, rest = _since(log, pair, known)
    place = np.empty(len(log), np.intp)
    place[row] = np.arange(len(log))
    opens = log.opens[row]
    opened = np.add.reduceat(opens, bounds[:-1]) if len(log) else np.zeros(0, np.intp)
    return March(
        log,
        row,
        bounds,
        pair[row],
        pair_task=pairs % max(1, len(log.tasks)),
        pair_lane=lane[pairs // max(1, len(log.tasks))],
        rest=rest[row],
        before=before[row],
        opens=opens,
        first=place[_first(log, pair)[row]],
        lanes=lanes,
        even=opened == np.diff(bounds),
        fresh=opened > 0,
    )


def _since(log: GradeLog, pair: Ints, known: Beliefs | None) -> tuple[Floats, Floats]:
    """Attempts before each grade, and days since the last one, in log order."""
    order = np.argsort(pair, kind="stable")
    sorted_pair = pair[order]
    begins = np.ones(len(pair), bool)
    begins[1:] = sorted_pair[1:] != sorted_pair[:-1]
    starts = np.flatnonzero(begins)
    run = np.arange(len(pair)) - np.repeat(starts, np.diff([*starts, len(pair)]))
    days = log.day[order]
    gap = np.zeros(len(pair))
    gap[1:] = np.where(begins[1:], 0.0, days[1:] - days[:-1])
    before = run.astype(float)
    if known is not None:
        had = known.places([log.tasks[place] for place in log.task[order]])
        for at, place in enumerate(had):
            if place is not None:
                before[at] += known.attempts[place]
                if begins[at]:
                    gap[at] = days[at] - known.last_day[place]
    counted, rested = np.empty(len(pair)), np.empty(len(pair))
    counted[order] = before
    rested[order] = np.maximum(np.nan_to_num(gap, nan=0.0), 0.0)
    return counted, rested


def _first(log: GradeLog, pair: Ints) -> Ints:
    """For each grade, the first grade of its task in its lesson, in log order."""
    lesson = np.cumsum(log.opens) - 1
    keys = lesson * (pair.max() + 1 if len(pair) else 1) + pair
    _, first, inverse = np.unique(keys, return_index=True, return_inverse=True)
    return np.asarray(first[inverse], np.intp)
