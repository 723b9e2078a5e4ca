"""What the server itself did, in the audit trail."""

from collections.abc import Mapping
from datetime import datetime

from gradebook.records.database import Database
from gradebook.records.store import auditing
from gradebook.records.tables.audit import AuditEvent


def note(database: Database, at: datetime, action: str, facts: Mapping[str, object]) -> None:
    """Add one event without an actor."""
    with database.write() as session:
        auditing.add(session, AuditEvent(at=at, action=action, facts=dict(facts)))
