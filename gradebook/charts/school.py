"""A school's findings: who grades harder, and what takes long."""

from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from math import inf

import numpy as np

from gradebook.analytics.instructors import InstructorDiagnostics, Severity, diagnose
from gradebook.analytics.needle.parameters import Parameters
from gradebook.analytics.progress import (
    FailedProof,
    TimeToProficiency,
    failed_proofs,
    times_to_proficiency,
)
from gradebook.analytics.survival import Survival, kaplan_meier
from gradebook.charts.chart import Chart
from gradebook.formats import count
from gradebook.pictures import figures, findings, numbers
from gradebook.pictures.school import caterpillar, survival_steps
from gradebook.pictures.series import SeverityRow, SurvivalCurve
from gradebook.records.attempts import Flown, TaskAttempts, checked
from gradebook.records.trail import SchoolTrail
from syllabus.course import Course
from syllabus.saying import say

SHOWN = 3
"""So many tasks are drawn as curves: those that take longest."""


def severity(parameters: Parameters, names: Mapping[str, str]) -> Chart:
    """How hard each instructor grades, with what is uncertain about it."""
    rows = [
        _severity_row(names.get(code, code), hand.severity, hand.error, hand.n)
        for code, hand in parameters.instructors.items()
        if hand.n
    ]
    return Chart(
        "severity",
        findings.severity(rows),
        count(sum(row.n for row in rows), "counted grade"),
        caterpillar(rows),
        numbers.severity(rows),
        partial(figures.severity_figure, rows),
        why=(
            say(
                "Severity is fitted together with every student's skill, so that whoever "
                "teaches beginners is not taken for strict. In units of skill: 0.5 is "
                "about 17 points of chance in the middle. A difference is clear when its "
                "95 % interval leaves 0 out; nobody else is ranked."
            )
        ),
    )


def _severity_row(name: str, value: float, error: float, n: int) -> SeverityRow:
    known = Severity(value, error)
    (low, high), (low95, high95) = known.interval(0.8), known.interval(0.95)
    return SeverityRow(
        name, value, low=low, high=high, low95=low95, high95=high95, n=n, clear=known.clear
    )


def grading(trail: SchoolTrail, parameters: Parameters) -> tuple[InstructorDiagnostics, ...]:
    """Diagnostics of every instructor's grading: spread, halo, drift; none without grades."""
    if not len(trail.graded.log):
        return ()
    known = {name: (hand.severity, hand.error) for name, hand in parameters.instructors.items()}
    levels = 1 + max(len(cuts) for cuts in parameters.cuts.values())
    return diagnose(trail.frame, known, levels)


def times(course: Course, attempts: Sequence[TaskAttempts]) -> tuple[TimeToProficiency, ...]:
    """Attempts to proficiency of every task, the slowest first, then in flow order.

    First those whose planned attempts did not do for half while nobody can say yet how many
    will; last those flown too seldom to tell.
    """
    planned = {
        task.code: sum(
            asked.task == task.code for lesson in course.lessons for asked in lesson.tasks
        )
        for task in course.tasks
    }
    found = times_to_proficiency(
        [one.task for one in attempts],
        np.array([one.attempts for one in attempts], float),
        np.array([one.proficient for one in attempts], bool),
        planned,
    )
    return tuple(sorted(found, key=lambda one: _slowness(course, one)))


def _slowness(course: Course, one: TimeToProficiency) -> tuple[float, int]:
    unknown = inf if one.is_slow else 0.0
    median = unknown if one.median.value is None else one.median.value
    return -median, course.flow_place.get(one.task, 0)


def failed_after_proof(people: Iterable[Flown]) -> tuple[FailedProof, ...]:
    """Tasks that were proficient in training and failed at their first check, worst first."""
    seen = checked(people)
    found = failed_proofs(
        [one.task for one in seen],
        np.array([one.proven for one in seen], bool),
        np.array([one.failed for one in seen], bool),
    )
    return tuple(one for one in found if one.failed)


def slowest(course: Course, attempts: Sequence[TaskAttempts]) -> Chart:
    """The share of students not yet proficient, for the tasks that take longest."""
    told = times(course, attempts)
    order = [one.task for one in told if one.is_slow or one.median.value is not None]
    curves = [_curve(course, task, attempts) for task in order[:SHOWN]]
    n = len({one.student_id for one in attempts})
    return Chart(
        "times",
        findings.survival(curves, "attempt"),
        count(n, "student"),
        survival_steps(curves, "attempt"),
        numbers.survival(curves, "attempt"),
        partial(figures.survival_figure, curves, "attempt"),
        why=(
            say(
                "Proficient: {grades} in a row at the standard. Students still training "
                "count as long as they have flown (Kaplan and Meier); leaving them out "
                "would make every task look quicker than it is.",
                grades=count(course.consecutive, "grade"),
            )
        ),
    )


def _curve(course: Course, task: str, attempts: Iterable[TaskAttempts]) -> SurvivalCurve:
    mine = [one for one in attempts if one.task == task]
    found: Survival = kaplan_meier(
        np.array([one.attempts for one in mine], float),
        np.array([one.proficient for one in mine], bool),
    )
    return SurvivalCurve(
        course.task_by_code[task].title,
        found.n,
        float(found.followed),
        [float(one) for one in found.times],
        [float(one) for one in found.share],
        at_risk=[int(one) for one in found.at_risk],
    )
