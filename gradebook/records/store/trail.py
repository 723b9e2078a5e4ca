"""The audit trail and the state of the folders, for whoever audits."""

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from gradebook.records.tables.audit import AuditEvent

PAGE = 50


def trail(session: Session, page: int = 1, enrolment_id: str | None = None) -> list[AuditEvent]:
    """One page (50) of the audit trail, newest first."""
    query = select(AuditEvent).order_by(AuditEvent.id.desc())
    if enrolment_id:
        query = query.where(AuditEvent.enrolment_id == enrolment_id)
    return list(session.scalars(query.offset((page - 1) * PAGE).limit(PAGE)))


def trail_length(session: Session, enrolment_id: str | None = None) -> int:
    """How many audit events there are."""
    query = select(func.count()).select_from(AuditEvent)
    if enrolment_id:
        query = query.where(AuditEvent.enrolment_id == enrolment_id)
    return session.scalar(query) or 0
