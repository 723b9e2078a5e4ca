"""What the page of one signed record shows beside it, read together."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session
from sqlalchemy.orm.attributes import set_committed_value

from gradebook.records.store import lessons, people, signatures
from gradebook.records.store.circumstances import Circumstances, circumstances_of, told_of
from gradebook.records.store.signatures import RecordProof
from gradebook.records.store.together import Asked, together
from gradebook.records.tables.lessons import ErrorMark, Grade, LessonRecord, ReadingTaken
from gradebook.records.values import State

Part = Grade | ErrorMark | ReadingTaken
PARTS: Mapping[str, type[Part]] = {
    "grades": Grade,
    "errors": ErrorMark,
    "readings": ReadingTaken,
}
"""The rows that hang on a record, by what it calls them."""
ROWS = tuple(
    Asked(select(*table.__table__.columns).where(table.record_id == bindparam("shown_record")))
    for table in PARTS.values()
)
AMENDMENTS = Asked(
    select(
        LessonRecord.id,
        LessonRecord.created_at,
        LessonRecord.signed_at,
        LessonRecord.instructor_id,
        LessonRecord.reason,
    ).where(
        LessonRecord.supersedes_id == bindparam("amended"), LessonRecord.state != State.DRAFT
    )
)


@dataclass(frozen=True, slots=True)
class Beside:
    """Signed amendments (oldest first), the student's own grades, names, the proof.

    `how`: how the record was signed and answered.
    """

    amendments: list[Any]
    judged: list[Any]
    names: dict[str, str]
    proof: RecordProof
    how: Circumstances


def beside(session: Session, record: LessonRecord) -> Beside:
    """Read what is shown with a record; its grades, errors and readings are put into it."""
    amendments, judged, names, told, entry, size, *parts = together(
        session,
        AMENDMENTS.of(amended=record.id),
        lessons.judged(record.enrolment_id),
        people.NAMED,
        told_of(record),
        *signatures.placed(record),
        *(part.of(shown_record=record.id) for part in ROWS),
    )
    for (name, table), rows in zip(PARTS.items(), parts, strict=True):
        set_committed_value(record, name, _made(table, rows))
    proof = signatures.judged(session, record, entry, size[0].size or 0)
    known = people.by_id(names)
    how = circumstances_of(session, told)
    amended = sorted(amendments, key=lambda row: row.created_at)
    return Beside(amended, judged, known, proof, how)


def _made(table: type[Part], rows: Sequence[Any]) -> list[Any]:
    made = [table(**row._asdict()) for row in rows]
    return sorted(made, key=_place)


def _place(row: Part) -> tuple[int, str]:
    """Grades as they stood on the card, errors by code, readings as they come."""
    if isinstance(row, Grade):
        return row.place, ""
    return 0, row.error if isinstance(row, ErrorMark) else ""
