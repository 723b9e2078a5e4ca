"""All students in step: the k-th sitting of each is taken in at once.

A sitting is the grades of one lesson; where a task is graded twice in a lesson, its second
grade opens a second sitting of the same day, and so on. Within a sitting every task stands
once, in the order of task names, whatever the order of the rows. Laid out from the grades
alone, so one layout serves every set of parameters.
"""

from dataclasses import dataclass

import numpy as np

from gradebook.analytics.needle.beliefs import Beliefs
from gradebook.analytics.needle.floats import Flags, Floats, Ints
from gradebook.analytics.needle.log import GradeLog


@dataclass(frozen=True, slots=True)
class March:
    """N grades step by step; a lane is a student, the one with most sittings first.

    Step k holds the k-th sitting of lanes 0, 1, 2 ... in order: sittings `sittings[k]` to
    `sittings[k + 1]`, of which sitting s holds rows `edges[s]` to `edges[s + 1]`. `row` [N]
    leads back to the log, `lane` [N] is each row's. A pair is one student's one task: `pair`
    [N], `pair_task`, `pair_lane` [pairs]. `rest` [N] is days since the pair's last grade (0
    where unknown), `before` [N] its attempts so far, `opens` [sittings] marks a new lesson,
    `first` [N] the row of the first grade of the same task in the same lesson.
    """

    log: GradeLog
    row: Ints
    lane: Ints
    sittings: Ints
    edges: Ints
    pair: Ints
    pair_task: Ints
    pair_lane: Ints
    rest: Floats
    before: Floats
    opens: Flags
    first: Ints
    lanes: Ints

    def __len__(self) -> int:
        return len(self.row)


def march(log: GradeLog, known: Beliefs | None = None) -> March:
    """Lay out a log; `known` continues one student's earlier grades (a log of one student)."""
    keys = log.student * max(1, len(log.tasks)) + log.task
    pairs, pair = np.unique(keys, return_inverse=True)
    before, rest = _since(log, pair, known)
    lesson = np.cumsum(log.opens) - 1
    again = _again(lesson, pair)
    # sittings in order of student, lesson, and how often the task was graded there before
    order = np.lexsort((log.task, again, lesson))
    begins = np.ones(len(log), bool)
    begins[1:] = (np.diff(lesson[order]) != 0) | (np.diff(again[order]) != 0)
    sitting = np.cumsum(begins) - 1
    owner = log.student[order][begins]
    counts = np.bincount(owner, minlength=len(log.students))
    step = np.arange(len(owner)) - (np.cumsum(counts) - counts)[owner]
    lanes = np.argsort(-counts, kind="stable")
    lane = np.argsort(lanes, kind="stable")
    place = np.lexsort((lane[owner], step))
    rank = np.argsort(place, kind="stable")
    turn = np.argsort(rank[sitting], kind="stable")
    row = order[turn]
    sizes = np.bincount(sitting, minlength=len(owner))[place]
    where = np.empty(len(log), np.intp)
    where[row] = np.arange(len(log))
    return March(
        log,
        row,
        lane=lane[log.student[row]],
        sittings=np.concatenate([[0], np.cumsum(np.bincount(step))]).astype(np.intp),
        edges=np.concatenate([[0], np.cumsum(sizes)]).astype(np.intp),
        pair=pair[row],
        pair_task=pairs % max(1, len(log.tasks)),
        pair_lane=lane[pairs // max(1, len(log.tasks))],
        rest=rest[row],
        before=before[row],
        opens=(again[order][begins] == 0)[place],
        first=where[_first(lesson, pair)[row]],
        lanes=lanes,
    )


def _again(lesson: Ints, pair: Ints) -> Ints:
    """How often each grade's task was graded before in the same lesson [N], in log order."""
    order = np.lexsort((np.arange(len(pair)), pair, lesson))
    begins = np.ones(len(pair), bool)
    begins[1:] = (np.diff(lesson[order]) != 0) | (np.diff(pair[order]) != 0)
    starts = np.flatnonzero(begins)
    counted = np.empty(len(pair), np.intp)
    counted[order] = np.arange(len(pair)) - starts[np.cumsum(begins) - 1] if len(pair) else 0
    return counted


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
        at, column = known.met([log.tasks[place] for place in log.task[order].tolist()])
        before[at] += known.attempts[column]
        gap[at] = np.where(begins[at], days[at] - known.last_day[column], gap[at])
    counted, rested = np.empty(len(pair)), np.empty(len(pair))
    counted[order] = before
    rested[order] = np.maximum(np.nan_to_num(gap, nan=0.0), 0.0)
    return counted, rested


def _first(lesson: Ints, pair: Ints) -> Ints:
    """For each grade, the first grade of its task in its lesson, in log order."""
    keys = lesson * (pair.max() + 1 if len(pair) else 1) + pair
    _, first, inverse = np.unique(keys, return_index=True, return_inverse=True)
    return np.asarray(first[inverse], np.intp)
