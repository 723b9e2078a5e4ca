"""Errors that recur: in one student beyond the school, and together in one lesson."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gradebook.analytics.cooccurrence import Cooccurrence, cooccurrences
from gradebook.analytics.needle.floats import Flags, Ints
from gradebook.analytics.recurrence import Finding, Recurrence, recurrences
from gradebook.records.values import History

Pair = tuple[str, str]
"""A task and an error in it."""


@dataclass(frozen=True, slots=True)
class Marks:
    """What was marked in the lessons of some students, and what could have been.

    `made[l, e]`: the error of `pairs[e]` was marked in a lesson; `graded[l, e]`: its task was
    graded (counted) there; `flown[l, e]`: graded, or marked with any error. Lessons are those
    of the students one after another, `ends` [S + 1] where each one's begin and end.
    """

    pairs: tuple[Pair, ...]
    made: Flags
    graded: Flags
    flown: Flags
    ends: Ints


def read_marks(histories: Sequence[History]) -> Marks:
    """Every lesson of these students, for the errors that any of them made."""
    lessons = [fact for history in histories for fact in history]
    marked = [
        (at, (mark.task, mark.error)) for at, fact in enumerate(lessons) for mark in fact.errors
    ]
    pairs = tuple(sorted({pair for _, pair in marked}))
    tasks = {task: at for at, task in enumerate(dict.fromkeys(task for task, _ in pairs))}
    counted = [
        (at, tasks[grade.task])
        for at, fact in enumerate(lessons)
        for grade in fact.grades
        if grade.rank is not None and grade.task in tasks
    ]
    place = {pair: at for at, pair in enumerate(pairs)}
    made = _flags([(at, place[pair]) for at, pair in marked], len(lessons), len(pairs))
    touched = counted + [(at, tasks[task]) for at, (task, _) in marked]
    graded, flown = (_flags(cells, len(lessons), len(tasks)) for cells in (counted, touched))
    column = [tasks[task] for task, _ in pairs]
    ends = np.cumsum([0, *map(len, histories)])
    return Marks(pairs, made, graded[:, column], flown[:, column], ends)


def _flags(cells: Sequence[tuple[int, int]], rows: int, columns: int) -> Flags:
    """A table with these cells set."""
    flags = np.zeros((rows, columns), bool)
    flags[tuple(np.array(cells, int).reshape(-1, 2).T)] = True
    return flags


@dataclass(frozen=True, slots=True)
class Recurring:
    """An error that recurs in one student (a place) more often than chance among the others."""

    student: int
    task: str
    error: str
    found: Recurrence


def recurring(marks: Marks) -> tuple[Recurring, ...]:
    """What recurs in whom: to act on first, then to watch."""
    made, flown = (_by_student(cells, marks.ends) for cells in (marks.made, marks.flown))
    return tuple(
        Recurring(one.student, *marks.pairs[one.error], found=one)
        for one in recurrences(made, flown, told=(Finding.ACT, Finding.WATCH))
    )


def _by_student(cells: Flags, ends: Ints) -> Ints:
    """In how many lessons of each student a flag is set [S, E]."""
    so_far = np.cumsum(np.vstack([np.zeros((1, cells.shape[1]), int), cells]), axis=0)
    return np.diff(so_far[ends], axis=0)


@dataclass(frozen=True, slots=True)
class Together:
    """Two errors marked in the same lesson more often than chance."""

    first: Pair
    second: Pair
    found: Cooccurrence


def together(marks: Marks) -> tuple[Together, ...]:
    """Pairs of errors of different tasks that come together, the strongest first."""
    could = marks.made | marks.graded
    found = cooccurrences(marks.made, could, [task for task, _ in marks.pairs])
    return tuple(
        Together(marks.pairs[one.first], marks.pairs[one.second], one)
        for one in found
        if one.p_adjusted <= LEVEL
    )


LEVEL = 0.05
"""Benjamini-Hochberg level at which two errors are said to come together."""
