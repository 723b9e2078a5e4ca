"""Histories: effective lesson records as plain facts, for one student or many at once."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import starmap
from operator import itemgetter
from typing import Any

from sqlalchemy import BindParameter, bindparam, select
from sqlalchemy.orm import Session

from gradebook.records import airframe, values
from gradebook.records.lifecycle import EFFECTIVE
from gradebook.records.store.together import Asked, together
from gradebook.records.tables.lessons import ErrorMark, Grade, LessonRecord
from gradebook.records.values import Outcome, State
from syllabus.course import LessonKind
from syllabus.errors import Severity

RECORD = (
    LessonRecord.id,
    LessonRecord.enrolment_id,
    LessonRecord.lesson,
    LessonRecord.kind,
    LessonRecord.flown_on,
    LessonRecord.sequence,
    LessonRecord.attempt,
    LessonRecord.instructor_id,
    LessonRecord.outcome,
    LessonRecord.state,
    LessonRecord.origin,
    LessonRecord.times,
    LessonRecord.aircraft,
)
GRADE = (
    Grade.record_id,
    Grade.place,
    Grade.task,
    Grade.level,
    Grade.rank,
    Grade.target,
    Grade.meets,
    Grade.remark,
)
MARK = (ErrorMark.record_id, ErrorMark.task, ErrorMark.error, ErrorMark.severity)
IDS: BindParameter[Any] = bindparam("enrolment_ids", expanding=True)
WANTED = LessonRecord.state.in_(EFFECTIVE) & LessonRecord.enrolment_id.in_(IDS)
LESSONS = (
    Asked(select(*RECORD).where(WANTED)),
    Asked(select(*MARK).join(LessonRecord).where(WANTED)),
)
GRADES = Asked(select(*GRADE).join(LessonRecord).where(WANTED))
Rows = Mapping[str, list[Any]]


def histories(session: Session, enrolment_ids: Collection[str]) -> dict[str, values.History]:
    """The history of each enrolment, oldest lesson first; two statements however many."""
    return lessons(session, enrolment_ids)[0]


def lessons(
    session: Session, enrolment_ids: Collection[str], also: Sequence[Asked] = ()
) -> tuple[dict[str, values.History], list[list[Any]]]:
    """Histories, and the rows of what else is asked; of one enrolment in one statement."""
    wanted, (grades,) = of(LESSONS, enrolment_ids), of([GRADES], enrolment_ids)
    if len(enrolment_ids) == 1:
        lessons, marks, graded, *rest = together(session, *wanted, grades, *also)
    else:
        lessons, marks, *rest = together(session, *wanted, *also)
        graded = list(grades.rows(session))
    return _told(enrolment_ids, lessons, marks, graded), rest


def _told(
    enrolment_ids: Collection[str], lessons: list[Any], marks: list[Any], graded: list[Any]
) -> dict[str, values.History]:
    grades = _grades(graded)
    errors = grouped(marks, "record_id")
    found: dict[str, list[values.LessonFact]] = {name: [] for name in enrolment_ids}
    for row in sorted(lessons, key=lambda row: (row.flown_on, row.sequence)):
        found[row.enrolment_id].append(
            _fact(row, grades.get(row.id, ()), map(_error, errors[row.id]))
        )
    return {name: tuple(facts) for name, facts in found.items()}


def history(session: Session, enrolment_id: str) -> values.History:
    """The history of one enrolment."""
    return histories(session, [enrolment_id])[enrolment_id]


def fact_of(record: LessonRecord) -> values.LessonFact:
    """One signed record as a fact, from what is in memory."""
    row: Any = record  # signed: nothing a fact needs is missing
    grades: Iterable[Any] = record.grades
    said = ((g.task, g.level, g.rank, g.target, g.meets, g.remark) for g in grades)
    return _fact(row, starmap(values.GradeFact, said), map(_error, record.errors))


def of(asked: Iterable[Asked], enrolment_ids: Collection[str]) -> tuple[Asked, ...]:
    """The same selects, each of these enrolments."""
    ids = list(enrolment_ids)
    return tuple(one.of(enrolment_ids=ids) for one in asked)


def _grades(rows: list[Any]) -> dict[str, list[values.GradeFact]]:
    """The grades of each record, in their order; grades that say the same are one fact."""
    made: dict[Any, values.GradeFact] = {}
    found: dict[str, list[values.GradeFact]] = defaultdict(list)
    for record, _, *said in sorted(rows, key=itemgetter(0, 1)):
        key = tuple(said)
        if key not in made:
            made[key] = values.GradeFact(*key)
        found[record].append(made[key])
    return found


def grouped(rows: Iterable[Any], name: str = "enrolment_id") -> Rows:
    """Rows by the value of one column."""
    found: Rows = defaultdict(list)
    for row in rows:
        found[getattr(row, name)].append(row)
    return found


def _fact(
    row: Any,  # noqa: ANN401 - a row of RECORD
    grades: Iterable[values.GradeFact],
    errors: Iterable[values.ErrorFact],
) -> values.LessonFact:
    given = tuple(grades)
    return values.LessonFact(
        record_id=row.id,
        lesson=row.lesson,
        kind=LessonKind(row.kind),
        flown_on=row.flown_on,
        sequence=row.sequence,
        attempt=row.attempt,
        instructor=row.instructor_id,
        outcome=Outcome(row.outcome),
        acknowledged=row.state == State.ACKNOWLEDGED or row.origin == "imported",
        grades=given,
        errors=_in_flow(errors, given),
        times=values.Times(**(row.times or {})),
        aircraft=airframe.type_of(row.aircraft),
    )


def _in_flow(
    errors: Iterable[values.ErrorFact], grades: Sequence[values.GradeFact]
) -> tuple[values.ErrorFact, ...]:
    """Errors in the order the lesson's tasks stand in, those of one task by code.

    Grades follow the flow of the checklist; the database gives marks in no order.
    """
    place = {one.task: at for at, one in enumerate(grades)}
    last = len(place)
    return tuple(
        sorted(errors, key=lambda one: (place.get(one.task, last), one.task, one.error))
    )


def _error(row: Any) -> values.ErrorFact:  # noqa: ANN401 - a row of MARK
    return values.ErrorFact(row.task, row.error, Severity(row.severity))
