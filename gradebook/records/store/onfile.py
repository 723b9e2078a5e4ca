"""Files: all that is on record of a student; readers remember it until something is done."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from gradebook.records import values
from gradebook.records.acts import REBUILT
from gradebook.records.database import MEMORY
from gradebook.records.readiness import StudentFile
from gradebook.records.remembering import Memories
from gradebook.records.store.facts import IDS, grouped, lessons, of
from gradebook.records.store.together import Asked, together
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import LedgerEntry
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.training import CloseDecision, FiledEvent
from gradebook.records.values import State

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
    Asked(
        select(LessonRecord.enrolment_id, func.count().label("number"))
        .where(LessonRecord.state == State.DRAFT, LessonRecord.enrolment_id.in_(IDS))
        .group_by(LessonRecord.enrolment_id)
    ),
)
FILED = (
    Asked(select(*EVENT).where(FiledEvent.enrolment_id.in_(IDS))),
    Asked(select(*DECISION).where(CloseDecision.enrolment_id.in_(IDS))),
)


def asked(enrolment_ids: Collection[str]) -> tuple[Asked, ...]:
    """What tells whether files are as they were, for `files` to make sense of."""
    return of(ASKED, enrolment_ids)


def files(
    session: Session, enrolment_ids: Collection[str], found: Sequence[list[Any]] | None = None
) -> dict[str, StudentFile]:
    """All that is on record of each enrolment; three statements however many.

    `found` are the rows of what is `asked`, where they were read together with more. To a
    reader a file is the same object for as long as nothing was done to it.
    """
    newest, rebuilt, drafts = found or together(session, *asked(enrolment_ids))
    unsigned = {row.enrolment_id: row.number for row in drafts}
    marks = {
        row.enrolment_id: (row.leaf, rebuilt[0].event_id, unsigned.get(row.enrolment_id, 0))
        for row in newest
    }
    kept: Memories | None = session.info.get(MEMORY)
    known = kept.files.recall(marks) if kept else {}
    missing = [name for name in enrolment_ids if name not in known]
    for name, one in (_read(session, missing, unsigned) if missing else {}).items():
        known[name] = one
        if kept and name in marks:
            kept.files.keep(name, marks[name], one, len(one.history))
    return known


def file(session: Session, enrolment_id: str) -> StudentFile:
    """All that is on record of one enrolment."""
    return files(session, [enrolment_id])[enrolment_id]


def _read(
    session: Session, enrolment_ids: Collection[str], unsigned: Mapping[str, int]
) -> dict[str, StudentFile]:
    told, (events, decisions) = lessons(session, enrolment_ids, of(FILED, enrolment_ids))
    filed = grouped(sorted(events, key=lambda row: (row.happened_on, row.filed_at)))
    decided = grouped(sorted(decisions, key=lambda row: row.decided_at))
    return {
        name: StudentFile(
            history=told[name],
            events=tuple(map(_event, filed[name])),
            decisions=tuple(map(_decision, decided[name])),
            unsigned=unsigned.get(name, 0),
        )
        for name in enrolment_ids
    }


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
