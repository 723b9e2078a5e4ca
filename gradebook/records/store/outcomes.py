"""Forecasts and what came of them."""

from dataclasses import dataclass

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session

from gradebook.analytics.needle.parameters import Parameters
from gradebook.analytics.readiness import Calibration
from gradebook.records.lifecycle import EFFECTIVE
from gradebook.records.permissions import Actor
from gradebook.records.store import courses, enrolments, needles
from gradebook.records.store.together import together
from gradebook.records.tables.lessons import Grade, LessonRecord
from gradebook.records.tables.needle import NeedleForecast
from gradebook.records.tables.people import Person
from gradebook.records.tables.training import Enrolment
from syllabus.course import Course

TENTHS = 10
NEAR = 1e-9
"""A chance this near below a tenth (times ten) belongs to it: .3 is seldom exactly .3."""


@dataclass(frozen=True, slots=True)
class Outcomes:
    """So many forecasts (`n`, at least 1) alike in all but the chance they told.

    The chance was told before the lesson for whoever graded it; it lies in `tenth` (0-9, the
    last one with 1), `total` is the sum of them and `squares` of their squares. `met`: whether
    the grades met the standard. `later`: worked out after the fact, from the lessons before it
    alone. `fit_id`: the parameters they were made under, None for the published defaults.
    """

    tenth: int
    met: bool
    later: bool
    fit_id: str | None
    n: int
    total: float
    squares: float


@dataclass(frozen=True, slots=True)
class Foretelling:
    """What foretells in a school, without anybody's history.

    `courses` are those with students the reader may see, each in its newest revision that has
    any, `course` the one chosen; `checks` is the calibration on past stage checks.
    """

    courses: dict[str, Course]
    course: Course | None
    parameters: Parameters
    checks: Calibration
    outcomes: list[Outcomes]


def foretelling(session: Session, actor: Actor, course: str) -> Foretelling:
    """The forecasts of the school; `course` is a code, any other text takes the first."""
    query = (
        select(Person.name, Enrolment.enrolled_on, Enrolment.revision_id)
        .join(Person, Person.id == Enrolment.student_id)
        .where(enrolments.readable(actor))
    )
    rows = sorted(session.execute(query), key=lambda row: (row.name, row.enrolled_on))
    everybody = [courses.course_of(session, row.revision_id) for row in rows]
    published, fit, checked = together(
        session, courses.PUBLISHED, needles.NEWEST, needles.CHECKED
    )
    taught = courses.in_newest(everybody, published)
    now = needles.knowing(session, fit[0].id if fit else None, taught.values())
    return Foretelling(
        taught,
        taught.get(course) or next(iter(taught.values()), None),
        now.parameters,
        needles.calibration(checked),
        outcomes(session),
    )


def outcomes(session: Session) -> list[Outcomes]:
    """Every forecast whose grade counts today, whoever the student is; the database counts."""
    chance = NeedleForecast.chance
    tenths = range(TENTHS - 1, 0, -1)
    tenth = case(*((chance * TENTHS + NEAR >= one, one) for one in tenths), else_=0)
    alike = (
        LessonRecord.revision_id,
        NeedleForecast.task,
        Grade.level,
        NeedleForecast.fit_id,
        NeedleForecast.later,
    )
    query = (
        select(
            *alike,
            tenth.label("tenth"),
            func.count().label("number"),
            func.sum(chance).label("total"),
            func.sum(chance * chance).label("squares"),
        )
        .join(LessonRecord, LessonRecord.id == NeedleForecast.record_id)
        .join(Grade, (Grade.record_id == LessonRecord.id) & (Grade.task == NeedleForecast.task))
        .where(LessonRecord.state.in_(EFFECTIVE))
        .group_by(*alike, "tenth")
    )
    found = []
    for row in session.execute(query):
        task = courses.course_of(session, row.revision_id).task_by_code[row.task]
        met = task.scale.meets(row.level)
        if met is not None:
            sums = row.number, row.total, row.squares
            found.append(Outcomes(row.tenth, met, row.later, row.fit_id, *sums))
    return found
