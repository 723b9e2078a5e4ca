"""The audit trail and the state of the folders, for whoever audits."""

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session, outerjoin

from gradebook.records.store.together import Asked
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.training import Enrolment

PAGE = 25
about = func.coalesce(AuditEvent.enrolment_id, LessonRecord.enrolment_id, Enrolment.id)
"""The enrolment an event is about: a look at records, or one refused, keeps what it was at."""
_reached = outerjoin(
    outerjoin(AuditEvent, LessonRecord, LessonRecord.id == AuditEvent.object_id),
    Enrolment,
    Enrolment.id == AuditEvent.object_id,
)


def trail(
    session: Session, page: int = 1, enrolment_id: str | None = None
) -> list[tuple[AuditEvent, str | None]]:
    """One page of the audit trail, newest first: events, and the enrolment each is about."""
    query = select(AuditEvent, about).select_from(_reached).order_by(AuditEvent.id.desc())
    if enrolment_id:
        query = query.where(about == enrolment_id)
    rows = session.execute(query.offset((page - 1) * PAGE).limit(PAGE))
    return [(event, enrolment) for event, enrolment in rows]


LENGTH = Asked(select(func.count(AuditEvent.id).label("number")))
"""How many audit events there are."""
LENGTH_ABOUT = Asked(LENGTH.query.select_from(_reached).where(about == bindparam("told_of")))


def length(enrolment_id: str | None = None) -> Asked:
    """Asks how many audit events there are, of one enrolment or of all."""
    return LENGTH_ABOUT.of(told_of=enrolment_id) if enrolment_id else LENGTH
