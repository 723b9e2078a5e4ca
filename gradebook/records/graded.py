"""Histories as the needle reads them: counted grades, oldest first. Pure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from gradebook.analytics.needle.coefficients import default_parameters
from gradebook.analytics.needle.log import Columns, GradeLog, grade_log
from gradebook.analytics.needle.parameters import Parameters, default_cuts
from gradebook.records.values import GradeFact, History, LessonFact
from syllabus.course import Course, Task
from syllabus.scales import GradeScale

ScaleShape = tuple[str, int, int]
"""Code of a scale, how many levels it has, and the place (1 first) of its standard."""


@dataclass(frozen=True, slots=True)
class StudentFlights:
    """The lessons of one enrolment to be read, oldest first."""

    enrolment_id: str
    course: Course
    history: History


@dataclass(frozen=True, slots=True)
class Graded:
    """A log, and for each of its rows the lesson and the grade it came from."""

    log: GradeLog
    lessons: tuple[LessonFact, ...]
    grades: tuple[GradeFact, ...]


def task_key(course: Course, task: str) -> str:
    """The name a task goes by in the needle: tasks of two courses are learnt apart."""
    return f"{course.code}/{task}"


def shape(scale: GradeScale) -> ScaleShape | None:
    """The shape of a scale; None where every level meets the standard: nothing to foretell."""
    standard = scale.places[scale.level(scale.standard).rank]
    return (scale.code, len(scale.levels), standard) if standard > 1 else None


def shapes(courses: Iterable[Course]) -> tuple[ScaleShape, ...]:
    """The shapes of every scale the courses grade by, by code."""
    scales = {task.scale.code: task.scale for course in courses for task in course.tasks}
    found = (shape(scales[code]) for code in sorted(scales))
    return tuple(one for one in found if one is not None)


def with_scales(parameters: Parameters | None, wanted: Sequence[ScaleShape]) -> Parameters:
    """Parameters that know these scales; the published defaults where there are none."""
    default = default_parameters(wanted)
    if parameters is None:
        return default
    cuts = {name: default_cuts(levels, place) for name, levels, place in wanted}
    return replace(parameters, cuts={**cuts, **parameters.cuts})


@dataclass(frozen=True, slots=True)
class _Read:
    """How the needle reads a task: its name, its scale, the place of each rank on that."""

    name: str
    scale: str
    places: Mapping[int, int]


def _read(course: Course, task: Task) -> _Read | None:
    """None for a task of which there is nothing to foretell."""
    if shape(task.scale) is None:
        return None
    return _Read(task_key(course, task.code), task.scale.code, task.scale.places)


def graded(flights: Iterable[StudentFlights]) -> Graded:
    """Every counted grade of these students as one log."""
    flights = list(flights)
    courses = {id(one.course): one.course for one in flights}
    tasks = {
        name: {task.code: _read(course, task) for task in course.tasks}
        for name, course in courses.items()
    }
    rows = [
        (one.enrolment_id, task, fact, grade)
        for one in flights
        for fact in one.history
        for grade in fact.grades
        if grade.rank is not None and (task := tasks[id(one.course)][grade.task])
    ]
    columns = Columns(
        [name for name, _, _, _ in rows],
        [task.name for _, task, _, _ in rows],
        [fact.instructor for _, _, fact, _ in rows],
        [fact.record_id for _, _, fact, _ in rows],
        [float(fact.flown_on.toordinal()) for _, _, fact, _ in rows],
        [task.places[grade.rank or 0] for _, task, _, grade in rows],
    )
    log, order = grade_log(columns, {task.name: task.scale for _, task, _, _ in rows})
    picked = [rows[place] for place in order]
    lessons = tuple(fact for _, _, fact, _ in picked)
    return Graded(log, lessons, tuple(grade for _, _, _, grade in picked))


def pace(history: History, otherwise: float = 7.0) -> float:
    """Days between two gradings of the same task, the middle value over all tasks.

    At least 1; `otherwise` when no task has been graded twice.
    """
    last: dict[str, date] = {}
    gaps = []
    for fact in history:
        for grade in fact.grades:
            if grade.rank is None:
                continue
            if grade.task in last:
                gaps.append((fact.flown_on - last[grade.task]).days)
            last[grade.task] = fact.flown_on
    middle = sorted(gaps)[len(gaps) // 2] if gaps else otherwise
    return float(max(1, middle))
