"""Histories: effective lesson records as plain facts, for one student or many at once."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import starmap
from operator import itemgetter
from typing import Any

from sqlalchemy import BindParameter, bindparam, func, select
from sqlalchemy.orm import Session

from gradebook.records import values
from gradebook.records.acts import REBUILT
from gradebook.records.database import MEMORY
from gradebook.records.lifecycle import EFFECTIVE
from gradebook.records.readiness import StudentFile
from gradebook.records.remembering import Memory
from gradebook.records.store.together import Asked, together
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import LedgerEntry
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
    Grade.place,
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
NEWEST = (
    select(func.max(LedgerEntry.seq))
    .where(LedgerEntry.enrolment_id.in_(IDS))
    .group_by(LedgerEntry.enrolment_id)
)
ASKED = (
    Asked(
        select(LedgerEntry.enrolment_id, LedgerEntry.leaf).where(LedgerEntry.seq.in_(NEWEST))
    ),
    Asked(
        select(func.max(AuditEvent.id).label("event_id")).where(AuditEvent.action == REBUILT)
    ),
    Asked(select(*EVENT).where(FiledEvent.enrolment_id.in_(IDS))),
    Asked(select(*DECISION).where(CloseDecision.enrolment_id.in_(IDS))),
    Asked(
        select(LessonRecord.enrolment_id, func.count().label("number"))
        .where(LessonRecord.state == State.DRAFT, LessonRecord.enrolment_id.in_(IDS))
        .group_by(LessonRecord.enrolment_id)
    ),
)
LESSONS = (
    Asked(select(*RECORD).where(WANTED)),
    Asked(select(*MARK).join(LessonRecord).where(WANTED)),
)
GRADES = Asked(select(*GRADE).join(LessonRecord).where(WANTED))
Rows = Mapping[str, list[Any]]


def asked(enrolment_ids: Collection[str]) -> tuple[Asked, ...]:
    """What is read of these enrolments beside their lessons: `files` makes sense of it."""
    return _of(ASKED, enrolment_ids)


def files(
    session: Session, enrolment_ids: Collection[str], found: Sequence[list[Any]] | None = None
) -> dict[str, StudentFile]:
    """All that is on record of each enrolment; three statements however many.

    `found` are the rows of what is `asked`, where they were read together with more.
    """
    newest, rebuilt, events, decisions, drafts = found or together(
        session, *asked(enrolment_ids)
    )
    marks = {row.enrolment_id: f"{row.leaf} {rebuilt[0].event_id}" for row in newest}
    told = _remembered(session, enrolment_ids, marks)
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


def _remembered(
    session: Session, enrolment_ids: Collection[str], marks: Mapping[str, str]
) -> dict[str, values.History]:
    """Histories as readers keep them under these marks, read where nobody has them."""
    memory: Memory | None = session.info.get(MEMORY)
    if memory is None:
        return histories(session, enrolment_ids)
    known = memory.recall(marks)
    missing = [name for name in enrolment_ids if name not in known]
    if missing:
        read = histories(session, missing)
        memory.keep(marks, read)
        known |= read
    return known


def histories(session: Session, enrolment_ids: Collection[str]) -> dict[str, values.History]:
    """The history of each enrolment, oldest lesson first; two statements however many."""
    wanted = _of(LESSONS, enrolment_ids)
    (grades,) = _of([GRADES], enrolment_ids)
    if len(enrolment_ids) == 1:
        lessons, marks, graded = together(session, *wanted, grades)
    else:
        (lessons, marks), graded = together(session, *wanted), list(grades.rows(session))
    return _told(enrolment_ids, lessons, marks, graded)


def _told(
    enrolment_ids: Collection[str], lessons: list[Any], marks: list[Any], graded: list[Any]
) -> dict[str, values.History]:
    grades = _grades(graded)
    errors = _grouped(marks, "record_id")
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


def _of(asked: Iterable[Asked], enrolment_ids: Collection[str]) -> tuple[Asked, ...]:
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


def _grouped(rows: Iterable[Any], name: str = "enrolment_id") -> Rows:
    grouped: Rows = defaultdict(list)
    for row in rows:
        grouped[getattr(row, name)].append(row)
    return grouped


def _fact(
    row: Any,  # noqa: ANN401 - a row of RECORD
    grades: Iterable[values.GradeFact],
    errors: Iterable[values.ErrorFact],
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
        grades=tuple(grades),
        errors=tuple(errors),
        times=values.Times(**(row.times or {})),
    )


def _error(row: Any) -> values.ErrorFact:  # noqa: ANN401 - a row of MARK
    return values.ErrorFact(row.task, row.error, Severity(row.severity))


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
