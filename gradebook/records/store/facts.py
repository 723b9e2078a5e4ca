"""Histories: effective lesson records as plain facts, for one student or many at once."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import BindParameter, bindparam, func, select
from sqlalchemy.orm import Session

from gradebook.records import values
from gradebook.records.lifecycle import EFFECTIVE
from gradebook.records.readiness import StudentFile
from gradebook.records.store.together import Asked, together
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
EVENT = (
    FiledEvent.enrolment_id,
    FiledEvent.id.label("event_id"),
    FiledEvent.code,
    FiledEvent.kind,
    FiledEvent.happened_on,
    FiledEvent.filed_at,
    FiledEvent.expires_on,
    FiledEvent.passed,
    FiledEvent.words,
    FiledEvent.filed_by,
)
DECISION = (
    CloseDecision.enrolment_id,
    CloseDecision.task,
    CloseDecision.error,
    CloseDecision.decided_on,
    CloseDecision.decided_at,
    CloseDecision.decided_by,
    CloseDecision.reason,
)
IDS: BindParameter[Any] = bindparam("enrolment_ids", expanding=True)
WANTED = LessonRecord.state.in_(EFFECTIVE) & LessonRecord.enrolment_id.in_(IDS)
ASKED = (
    Asked(select(*RECORD).where(WANTED)),
    Asked(select(*MARK).join(LessonRecord).where(WANTED)),
    Asked(select(*EVENT).where(FiledEvent.enrolment_id.in_(IDS))),
    Asked(select(*DECISION).where(CloseDecision.enrolment_id.in_(IDS))),
    Asked(
        select(LessonRecord.enrolment_id, func.count().label("number"))
        .where(LessonRecord.state == State.DRAFT, LessonRecord.enrolment_id.in_(IDS))
        .group_by(LessonRecord.enrolment_id)
    ),
)
GRADES = Asked(select(*GRADE).join(LessonRecord).where(WANTED).order_by(Grade.place))
Rows = Mapping[str, list[Any]]


def asked(enrolment_ids: Collection[str]) -> tuple[Asked, ...]:
    """What is read of these enrolments beside their grades: `files` makes sense of it."""
    ids = list(enrolment_ids)
    return tuple(one.of(enrolment_ids=ids) for one in ASKED)


def files(
    session: Session, enrolment_ids: Collection[str], found: Sequence[list[Any]] | None = None
) -> dict[str, StudentFile]:
    """All that is on record of each enrolment; two statements however many.

    `found` are the rows of what is `asked`, where they were read together with more.
    """
    lessons, marks, events, decisions, drafts = found or together(
        session, *asked(enrolment_ids)
    )
    told = _told(session, enrolment_ids, lessons, marks)
    filed = _grouped(sorted(events, key=lambda row: (row.happened_on, row.filed_at)))
    decided = _grouped(sorted(decisions, key=lambda row: row.decided_at))
    unsigned = {row.enrolment_id: row.number for row in drafts}
    return {
        name: StudentFile(
            history=told[name],
            events=tuple(map(_event, filed[name])),
            decisions=tuple(map(_decision, decided[name])),
            unsigned=unsigned.get(name, 0),
        )
        for name in enrolment_ids
    }


def file(session: Session, enrolment_id: str) -> StudentFile:
    """All that is on record of one enrolment."""
    return files(session, [enrolment_id])[enrolment_id]


def histories(session: Session, enrolment_ids: Collection[str]) -> dict[str, values.History]:
    """The history of each enrolment, oldest lesson first; two statements however many."""
    lessons, marks = together(session, *asked(enrolment_ids)[:2])
    return _told(session, enrolment_ids, lessons, marks)


def _told(
    session: Session, enrolment_ids: Collection[str], lessons: list[Any], marks: list[Any]
) -> dict[str, values.History]:
    wanted = GRADES.of(enrolment_ids=list(enrolment_ids))
    grades = _grouped(wanted.rows(session), "record_id")
    errors = _grouped(marks, "record_id")
    found: dict[str, list[values.LessonFact]] = {name: [] for name in enrolment_ids}
    for row in sorted(lessons, key=lambda row: (row.flown_on, row.sequence)):
        found[row.enrolment_id].append(_fact(row, grades[row.id], errors[row.id]))
    return {name: tuple(facts) for name, facts in found.items()}


def history(session: Session, enrolment_id: str) -> values.History:
    """The history of one enrolment."""
    return histories(session, [enrolment_id])[enrolment_id]


def fact_of(record: LessonRecord) -> values.LessonFact:
    """One signed record as a fact, from what is in memory."""
    row: Any = record  # signed: nothing a fact needs is missing
    return _fact(row, record.grades, record.errors)


def _grouped(rows: Iterable[Any], name: str = "enrolment_id") -> Rows:
    grouped: Rows = defaultdict(list)
    for row in rows:
        grouped[getattr(row, name)].append(row)
    return grouped


def _fact(row: Any, grades: Iterable[Any], marks: Iterable[Any]) -> values.LessonFact:  # noqa: ANN401 - a row of the columns above
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


def _event(row: Any) -> values.FiledEvent:  # noqa: ANN401 - a row of EVENT
    return values.FiledEvent(
        event_id=row.event_id,
        code=row.code,
        kind=row.kind,
        on=row.happened_on,
        expires_on=row.expires_on,
        passed=row.passed,
        words=row.words,
        filed_by=row.filed_by,
    )


def _decision(row: Any) -> values.CloseDecision:  # noqa: ANN401 - a row of DECISION
    return values.CloseDecision(
        task=row.task,
        error=row.error,
        decided_on=row.decided_on,
        decided_by=row.decided_by,
        reason=row.reason,
    )
