"""Errors that recur: in one student beyond the school, and together in one lesson."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gradebook.analytics.cooccurrence import Cooccurrence, cooccurrences
from gradebook.analytics.recurrence import Finding, Recurrence, recurrences
from gradebook.records.store.standing import Standing
from gradebook.records.values import LessonFact
from gradebook.records.watchitems import chances

Pair = tuple[str, str]
"""A task and an error in it."""


@dataclass(frozen=True, slots=True)
class Recurring:
    """An error that recurs in one student more often than chance among the others."""

    state: Standing
    task: str
    error: str
    found: Recurrence


def recurring(states: Sequence[Standing]) -> tuple[Recurring, ...]:
    """What recurs in whom: to act on first, then to watch."""
    seen = [_marks(state) for state in states]
    pairs = sorted({pair for marks, _ in seen for pair in marks})
    if not pairs or not states:
        return ()
    marks = np.array([[one.get(pair, 0) for pair in pairs] for one, _ in seen])
    flown = np.array([[could.get(task, 0) for task, _ in pairs] for _, could in seen])
    return tuple(
        Recurring(states[one.student], *pairs[one.error], found=one)
        for one in recurrences(marks, flown, told=(Finding.ACT, Finding.WATCH))
    )


def _marks(state: Standing) -> tuple[dict[Pair, int], dict[str, int]]:
    marks: dict[Pair, int] = {}
    could: dict[str, int] = {}
    for task, lessons in chances(state.history).items():
        could[task] = len(lessons)
        for _, marked in lessons:
            for error in marked:
                marks[task, error] = marks.get((task, error), 0) + 1
    return marks, could


@dataclass(frozen=True, slots=True)
class Together:
    """Two errors marked in the same lesson more often than chance."""

    first: Pair
    second: Pair
    found: Cooccurrence


def together(states: Iterable[Standing]) -> tuple[Together, ...]:
    """Pairs of errors of different tasks that come together, the strongest first."""
    lessons = [fact for state in states for fact in state.history]
    marks = [
        (at, (mark.task, mark.error)) for at, fact in enumerate(lessons) for mark in fact.errors
    ]
    pairs = sorted({pair for _, pair in marks})
    if len(pairs) < 2:
        return ()
    place = {pair: at for at, pair in enumerate(pairs)}
    made = np.zeros((len(lessons), len(pairs)), bool)
    made[[at for at, _ in marks], [place[pair] for _, pair in marks]] = True
    tasks = [task for task, _ in pairs]
    found = cooccurrences(made, made | _counted(lessons, tasks), tasks)
    return tuple(
        Together(pairs[one.first], pairs[one.second], one)
        for one in found
        if one.p_adjusted <= LEVEL
    )


def _counted(lessons: Sequence[LessonFact], tasks: Sequence[str]) -> NDArray[np.bool_]:
    """Whether each task was graded (counted) in each lesson [lessons, tasks]."""
    place = {task: at for at, task in enumerate(dict.fromkeys(tasks))}
    cells = [
        (at, place[grade.task])
        for at, fact in enumerate(lessons)
        for grade in fact.grades
        if grade.rank is not None and grade.task in place
    ]
    counted = np.zeros((len(lessons), len(place)), bool)
    counted[tuple(np.array(cells, int).reshape(-1, 2).T)] = True
    return np.asarray(counted[:, [place[task] for task in tasks]])


LEVEL = 0.05
"""Benjamini-Hochberg level at which two errors are said to come together."""
