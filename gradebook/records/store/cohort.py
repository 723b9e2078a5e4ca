"""Everybody ever in a course as the needle reads them: counted grades alone, in two selects."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.analytics.needle.log import Columns, GradeLog, grade_log
from gradebook.analytics.needle.parameters import Parameters
from gradebook.records.graded import shape, shapes, task_key, with_scales
from gradebook.records.lifecycle import EFFECTIVE
from gradebook.records.store import courses
from gradebook.records.tables.lessons import Grade, LessonRecord
from gradebook.records.tables.training import Enrolment
from syllabus.course import Course

FLOWN = (
    LessonRecord.id,
    LessonRecord.enrolment_id,
    LessonRecord.flown_on,
    LessonRecord.sequence,
    LessonRecord.instructor_id,
    Enrolment.revision_id,
    Enrolment.student_id,
)
GIVEN = Grade.record_id, Grade.place, Grade.task, Grade.rank


@dataclass(frozen=True, slots=True)
class Cohort:
    """Every counted grade of a course, by enrolment, and the needle's parameters.

    `person` is whose an enrolment is: who comes back has several.
    """

    log: GradeLog
    parameters: Parameters
    person: Mapping[str, str]


def cohort(session: Session, course: str, parameters: Parameters) -> Cohort:
    """Everybody ever enrolled in a course, under these parameters; nobody is named."""
    wanted = (Enrolment.course == course) & LessonRecord.state.in_(EFFECTIVE)
    flown = select(*FLOWN).join(Enrolment).where(wanted)
    given = select(*GIVEN).join(LessonRecord).join(Enrolment)
    lessons = session.execute(flown).all()
    grades = session.execute(given.where(wanted, Grade.rank.is_not(None))).all()
    revisions = {lesson.revision_id for lesson in lessons}
    taught = {name: courses.course_of(session, name) for name in revisions}
    known = with_scales(parameters, shapes(taught.values()))
    person = {lesson.enrolment_id: lesson.student_id for lesson in lessons}
    return Cohort(_log(lessons, grades, taught), known, person)


def _log(lessons: Sequence[Any], grades: Sequence[Any], taught: dict[str, Course]) -> GradeLog:
    """Each student's grades in the order of the lessons; what cannot be foretold left out."""
    flown = sorted(lessons, key=lambda row: (row.flown_on, row.sequence))
    where = {lesson.id: at for at, lesson in enumerate(flown)}
    levels = {name: _levels(course) for name, course in taught.items()}
    known = [levels[lesson.revision_id] for lesson in flown]
    found = ((where[record], place, (task, rank)) for record, place, task, rank in grades)
    rows = sorted(row for row in found if row[2] in known[row[0]])
    told = [known[at][level] for at, _, level in rows]
    days = [float(lesson.flown_on.toordinal()) for lesson in flown]
    facts = [(row.enrolment_id, row.instructor_id, row.id) for row in flown]
    of_row = [facts[at] for at, _, _ in rows]
    columns = Columns(
        [student for student, _, _ in of_row],
        [key for key, _, _ in told],
        [instructor for _, instructor, _ in of_row],
        [record for _, _, record in of_row],
        [days[at] for at, _, _ in rows],
        [grade for _, _, grade in told],
    )
    return grade_log(columns, {key: scale for key, scale, _ in told})[0]


def _levels(course: Course) -> dict[tuple[str, int], tuple[str, str, int]]:
    """By task and rank: the task's key, its scale's code, the place of the level, 1 the lowest.

    Tasks that cannot be foretold are left out.
    """
    return {
        (task.code, rank): (task_key(course, task.code), task.scale.code, grade)
        for task in course.tasks
        if shape(task.scale)
        for rank, grade in task.scale.places.items()
    }
