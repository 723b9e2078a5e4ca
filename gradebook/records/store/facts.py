"""Histories: effective lesson records as plain facts, for one student or many at once."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from typing import Any

from sqlalchemy import Row, Select, select
from sqlalchemy.orm import Session

from gradebook.records import values
from gradebook.records.lifecycle import EFFECTIVE
from gradebook.records.tables.lessons import ErrorMark, Grade, LessonRecord
from gradebook.records.tables.training import CloseDecision, FiledEvent
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
)
GRADE = (
    Grade.record_id,
    Grade.task,
    Grade.level,
    Grade.rank,
    Grade.target,
    Grade.meets,
    Grade.remark,
)
MARK = (ErrorMark.record_id, ErrorMark.task, ErrorMark.error, ErrorMark.severity)
Rows = dict[str, list[Row[Any]]]


def histories(session: Session, enrolment_ids: Collection[str]) -> dict[str, values.History]:
    """The history of each enrolment, oldest lesson first; three queries however many."""
    wanted = LessonRecord.state.in_(EFFECTIVE) & LessonRecord.enrolment_id.in_(enrolment_ids)
    order = (LessonRecord.flown_on, LessonRecord.sequence)
    records = session.execute(select(*RECORD).where(wanted).order_by(*order)).all()
    grades = _by_record(
        session, select(*GRADE).join(LessonRecord).where(wanted).order_by(Grade.place)
    )
    marks = _by_record(session, select(*MARK).join(LessonRecord).where(wanted))
    found: dict[str, list[values.LessonFact]] = {name: [] for name in enrolment_ids}
    for row in records:
        found[row.enrolment_id].append(_fact(row, grades[row.id], marks[row.id]))
    return {name: tuple(facts) for name, facts in found.items()}


def history(session: Session, enrolment_id: str) -> values.History:
    """The history of one enrolment."""
    return histories(session, [enrolment_id])[enrolment_id]


def fact_of(record: LessonRecord) -> values.LessonFact:
    """One signed record as a fact, from what is in memory."""
    row: Any = record  # signed: nothing a fact needs is missing
    return _fact(row, record.grades, record.errors)


def _by_record(session: Session, query: Select[*tuple[Any, ...]]) -> Rows:
    grouped: Rows = defaultdict(list)
    for row in session.execute(query):
        grouped[row.record_id].append(row)
    return grouped


def _fact(
    row: Row[Any],
    grades: Iterable[Row[Any] | Grade],
    marks: Iterable[Row[Any] | ErrorMark],
) -> values.LessonFact:
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
        grades=tuple(
            values.GradeFact(g.task, g.level, g.rank, g.target, g.meets, g.remark)
            for g in grades
        ),
        errors=tuple(values.ErrorFact(m.task, m.error, Severity(m.severity)) for m in marks),
        times=values.Times(**(row.times or {})),
    )


def filed_events(
    session: Session, enrolment_ids: Collection[str]
) -> dict[str, list[values.FiledEvent]]:
    """What is on file for each enrolment, oldest first."""
    found: dict[str, list[values.FiledEvent]] = {name: [] for name in enrolment_ids}
    query = select(FiledEvent).where(FiledEvent.enrolment_id.in_(enrolment_ids))
    for row in session.scalars(query.order_by(FiledEvent.happened_on, FiledEvent.filed_at)):
        event = values.FiledEvent(
            event_id=row.id,
            code=row.code,
            kind=row.kind,
            on=row.happened_on,
            expires_on=row.expires_on,
            passed=row.passed,
            words=row.words,
            filed_by=row.filed_by,
        )
        found[row.enrolment_id].append(event)
    return found


def close_decisions(
    session: Session, enrolment_ids: Collection[str]
) -> dict[str, list[values.CloseDecision]]:
    """The signed decisions to close watch items of each enrolment, oldest first."""
    found: dict[str, list[values.CloseDecision]] = {name: [] for name in enrolment_ids}
    query = select(CloseDecision).where(CloseDecision.enrolment_id.in_(enrolment_ids))
    for row in session.scalars(query.order_by(CloseDecision.decided_at)):
        decision = values.CloseDecision(
            task=row.task,
            error=row.error,
            decided_on=row.decided_on,
            decided_by=row.decided_by,
            reason=row.reason,
        )
        found[row.enrolment_id].append(decision)
    return found
