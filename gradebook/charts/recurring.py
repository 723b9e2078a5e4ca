"""Errors that recur: in one student beyond the school, and together in one lesson."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from gradebook.analytics.cooccurrence import Cooccurrence, cooccurrences
from gradebook.analytics.recurrence import Finding, Recurrence, recurrences
from gradebook.records.store.standing import Standing
from gradebook.records.values import GradeFact
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
        for one in recurrences(marks, flown)
        if one.finding is not Finding.NONE
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
    lessons = [
        (fact, {(mark.task, mark.error) for mark in fact.errors})
        for state in states
        for fact in state.history
    ]
    pairs = sorted({pair for _, marked in lessons for pair in marked})
    if len(pairs) < 2:
        return ()
    made = np.array([[pair in marked for pair in pairs] for _, marked in lessons])
    could = np.array(
        [
            [pair in marked or _is_counted(fact.grade(pair[0])) for pair in pairs]
            for fact, marked in lessons
        ]
    )
    found = cooccurrences(made, could, [task for task, _ in pairs])
    return tuple(
        Together(pairs[one.first], pairs[one.second], one)
        for one in found
        if one.p_adjusted <= LEVEL
    )


LEVEL = 0.05
"""Benjamini-Hochberg level at which two errors are said to come together."""


def _is_counted(grade: GradeFact | None) -> bool:
    return grade is not None and grade.rank is not None
