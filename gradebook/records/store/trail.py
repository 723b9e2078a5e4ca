"""The audit trail and the state of the folders, for whoever audits."""

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session

from gradebook.records.store.together import Asked
from gradebook.records.tables.audit import AuditEvent

PAGE = 25


def trail(session: Session, page: int = 1, enrolment_id: str | None = None) -> list[AuditEvent]:
    """One page of the audit trail, newest first."""
    query = select(AuditEvent).order_by(AuditEvent.id.desc())
    if enrolment_id:
        query = query.where(AuditEvent.enrolment_id == enrolment_id)
    return list(session.scalars(query.offset((page - 1) * PAGE).limit(PAGE)))


LENGTH = Asked(select(func.count(AuditEvent.id).label("number")))
"""How many audit events there are."""
LENGTH_ABOUT = Asked(LENGTH.query.where(AuditEvent.enrolment_id == bindparam("told_of")))


def length(enrolment_id: str | None = None) -> Asked:
    """Asks how many audit events there are, of one enrolment or of all."""
    return LENGTH_ABOUT.of(told_of=enrolment_id) if enrolment_id else LENGTH
