"""Grades in the order the needle reads them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from gradebook.analytics.needle.floats import Flags, Floats, Ints


@dataclass(frozen=True, slots=True)
class GradeLog:
    """N counted grades, each student's together and oldest first.

    `student`, `task`, `instructor` [N] are places in the name tuples; `scale` [tasks] is each
    task's place in `scales`; `grade` [N] is 1 for the lowest level; `day` [N] is a day number,
    nan where the date is missing; `opens` [N] marks the first grade of a lesson.
    """

    students: tuple[str, ...]
    tasks: tuple[str, ...]
    instructors: tuple[str, ...]
    scales: tuple[str, ...]
    student: Ints
    task: Ints
    instructor: Ints
    scale: Ints
    grade: Ints
    day: Floats
    opens: Flags

    def __len__(self) -> int:
        return len(self.student)

    def of_students(self, wanted: Flags) -> "GradeLog":
        """The grades [N] of the students marked in `wanted` [students], names unchanged."""
        return self.rows(wanted[self.student])

    def rows(self, kept: Flags) -> "GradeLog":
        """The grades marked in `kept` [N]; whole lessons only, or the first kept opens one."""
        lesson = np.cumsum(self.opens)[kept]
        opens = np.ones(len(lesson), bool)
        opens[1:] = lesson[1:] != lesson[:-1]
        return GradeLog(
            self.students,
            self.tasks,
            self.instructors,
            self.scales,
            student=self.student[kept],
            task=self.task[kept],
            instructor=self.instructor[kept],
            scale=self.scale,
            grade=self.grade[kept],
            day=self.day[kept],
            opens=opens,
        )


@dataclass(frozen=True, slots=True)
class Columns:
    """Grades as parallel sequences of length N, each student's in order of time.

    `lesson` tells one lesson of a student from the next; `day` is a day number or nan.
    """

    student: Sequence[str]
    task: Sequence[str]
    instructor: Sequence[str]
    lesson: Sequence[object]
    day: Sequence[float]
    grade: Sequence[int]


def grade_log(columns: Columns, scales: Mapping[str, str]) -> tuple[GradeLog, Ints]:
    """Sort grades by student, keeping each one's order; `scales` names each task's scale.

    Returns the log and, for each of its rows, the place of that row in `columns`.
    """
    students, student = _places(columns.student)
    tasks, task = _places(columns.task)
    instructors, instructor = _places(columns.instructor)
    scale_names, scale = _places([scales[name] for name in tasks])
    order = np.argsort(student, kind="stable")
    lessons = _places(columns.lesson)[1][order]
    student = student[order]
    opens = np.ones(len(order), bool)
    opens[1:] = (student[1:] != student[:-1]) | (lessons[1:] != lessons[:-1])
    log = GradeLog(
        students,
        tasks,
        instructors,
        scale_names,
        student=student,
        task=task[order],
        instructor=instructor[order],
        scale=scale,
        grade=np.asarray(columns.grade, np.intp)[order],
        day=np.asarray(columns.day, float)[order],
        opens=opens,
    )
    return log, order


def _places(values: Sequence[object]) -> tuple[tuple[str, ...], Ints]:
    """The distinct values as words, sorted, and the place of each value among them."""
    words = [str(value) for value in values]
    names = tuple(sorted(set(words)))
    place = {name: at for at, name in enumerate(names)}
    return names, np.array([place[word] for word in words], np.intp)
