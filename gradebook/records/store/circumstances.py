"""How a record came to be signed and acknowledged, as the audit trail tells it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from gradebook.records.permissions import Action
from gradebook.records.store.together import Asked
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import SigningKey
from gradebook.records.tables.lessons import LessonRecord

SIGNED, ANSWERED = Action.RECORD_SIGN.value, Action.RECORD_ACKNOWLEDGE.value
Facts = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What beside the record itself is worth knowing of its signature and its answer.

    `phone` is the name of the phone it was signed on, `received_at` when that delivered it and
    `estimated_at` when it was written by our own clock; `clock_off` is how many seconds the
    phone's clock was ahead, where that was more than is let pass. `same_device` says that it
    was answered in the browser it was signed in.
    """

    phone: str = ""
    received_at: datetime | None = None
    estimated_at: datetime | None = None
    clock_off: int = 0
    same_device: bool = False


TOLD = Asked(
    select(AuditEvent.id, AuditEvent.action, AuditEvent.facts).where(
        AuditEvent.enrolment_id == bindparam("told_enrolment"),
        AuditEvent.object_id == bindparam("told_record"),
    )
)


def told_of(record: LessonRecord) -> Asked:
    """What the trail tells of a record, to be read beside other things."""
    return TOLD.of(told_enrolment=record.enrolment_id, told_record=record.id)


def circumstances_of(session: Session, rows: Sequence[Any]) -> Circumstances:
    """The circumstances of a signed record by what `told_of` asked for."""
    told = _last(rows)
    same = told.get(ANSWERED, {}).get("same_device", False)
    facts = next((one for one in told.values() if "phone" in one), None)
    if facts is None:
        return Circumstances(same_device=same)
    key = session.get(SigningKey, facts["phone"])
    return Circumstances(
        phone=(key.device if key else None) or "a phone",
        received_at=datetime.fromisoformat(facts["received_at"]),
        estimated_at=datetime.fromisoformat(facts["estimate"]),
        clock_off=facts["clock_off_seconds"] if facts["clock_off"] else 0,
        same_device=same,
    )


def signed_in(session: Session, record: LessonRecord) -> str:
    """The mark of the browser that signed this record; empty where none was known."""
    told = _last(told_of(record).rows(session))
    return str(told.get(SIGNED, {}).get("device", ""))


def _last(rows: Sequence[Any]) -> dict[str, Facts]:
    """The facts of the last event of each action."""
    return {row.action: row.facts for row in sorted(rows, key=lambda row: row.id)}
