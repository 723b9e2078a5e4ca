"""What stage checks say of the instructors who taught for them. Pure."""

from collections.abc import Iterable, Iterator, Mapping

import numpy as np
import pandas as pd

from gradebook.records.graded import StudentFlights, shape
from gradebook.records.trail import SchoolTrail
from gradebook.records.values import History
from syllabus.course import LessonKind
from syllabus.scales import GradeScale

LAST = 2
"""So many lessons before a stage check count as just before it."""

Pair = tuple[str, str, int, int]
"""Instructor, check, level given, level found; 0 is where the standard begins."""

Steps = dict[int | None, int]
"""The level of every rank of a scale, counted from where the standard begins."""


def lessons_before(school: SchoolTrail) -> pd.DataFrame:
    """Every training lesson with counted grades, and whether a check followed at once.

    Columns `instructor`, `z` (mean over its grades) and `before`: among the last `LAST` before
    a stage check of its student. Checks themselves are left out.
    """
    facts = school.graded.lessons
    is_check = np.array([fact.kind is LessonKind.STAGE_CHECK for fact in facts], bool)
    frame = school.frame.assign(check=is_check)
    lessons = frame.groupby(["student", "number"], as_index=False).agg(
        instructor=("instructor", "first"), z=("z", "mean"), check=("check", "first")
    )
    by_student = lessons.groupby("student")["check"]
    coming = [by_student.shift(-ahead, fill_value=False) for ahead in range(1, LAST + 1)]
    before = pd.concat(coming, axis=1).any(axis=1)
    found = lessons.assign(before=before)
    return found.loc[~found["check"], ["instructor", "z", "before"]]


def check_pairs(flights: Iterable[StudentFlights]) -> pd.DataFrame:
    """The last training grade of each task of a stage check beside the check's grade.

    Columns `instructor`, `check`, `given`, `found`. Left out: tasks never graded before, and
    those whose last grade the examiner gave.
    """
    taught: dict[str, dict[str, Steps]] = {}
    rows: list[Pair] = []
    for one in flights:
        course = one.course
        if course.revision not in taught:
            taught[course.revision] = {task.code: _steps(task.scale) for task in course.tasks}
        rows.extend(_pairs(one.history, taught[course.revision]))
    return pd.DataFrame(rows, columns=["instructor", "check", "given", "found"])


def _pairs(history: History, steps: Mapping[str, Steps]) -> Iterator[Pair]:
    last: dict[str, tuple[str, int]] = {}
    for fact in history:
        for grade in fact.grades:
            level = steps[grade.task].get(grade.rank)
            if level is None:
                continue
            if fact.kind is not LessonKind.STAGE_CHECK:
                last[grade.task] = (fact.instructor, level)
            elif grade.task in last and last[grade.task][0] != fact.instructor:
                yield last[grade.task][0], fact.record_id, last[grade.task][1], level


def _steps(scale: GradeScale) -> Steps:
    """Levels above the first that meets the standard, by rank; none where all of them do."""
    known = shape(scale)
    if known is None:
        return {}
    return {rank: place - known[2] for rank, place in scale.places.items()}
