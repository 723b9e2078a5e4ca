"""The audit trail: one row for each act, written in the act's own transaction."""

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from gradebook.records.tables.columns import Code, Table


class AuditEvent(Table):
    """Who did what to which object, when, with the facts.

    `id` counts up; `action` is the name of the permission.
    """

    __tablename__ = "audit_event"
    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[datetime]
    actor_id: Mapped[str | None] = mapped_column(String(32), ForeignKey("person.id"))
    action: Mapped[Code]
    object_id: Mapped[str | None] = mapped_column(String(64))
    enrolment_id: Mapped[str | None] = mapped_column(String(32), ForeignKey("enrolment.id"))
    facts: Mapped[dict[str, Any]]
    __table_args__ = (
        Index("ix_audit_event_action", "action", "id"),
        Index("ix_audit_event_at", "at"),
        Index("ix_audit_event_enrolment_id", "enrolment_id"),
    )
