"""The audit trail as a log of its own: each event a leaf of a second tree."""

from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook import clock
from gradebook.ledger import tree
from gradebook.ledger.canonical import jcs
from gradebook.records.store.ledger import ERASED, Tip, audit_nodes
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import AuditNode

TIP = "audit tip"


def text_of(event: AuditEvent) -> bytes:
    """What the tree holds of an event: all of it, in canonical form."""
    said: dict[str, Any] = {
        "id": event.id,
        "at": clock.zulu(event.at),
        "actor": event.actor_id,
        "action": event.action,
        "object": event.object_id,
        "enrolment": event.enrolment_id,
        "facts": event.facts,
    }
    return jcs(said)


def add(session: Session, event: AuditEvent) -> None:
    """Write an event and its place in the tree."""
    session.add(event)
    session.flush()
    node(session, event)


def node(session: Session, event: AuditEvent) -> None:
    """Give a written event its place in the tree."""
    end = tip(session)
    nodes = end.grow(tree.leaf_hash(text_of(event)))
    session.add(AuditNode(place=end.size, event_id=event.id, nodes=nodes))


def tip(session: Session) -> Tip:
    """The audit trail's end, remembered while the transaction lasts."""
    known = session.info.get(TIP)
    if isinstance(known, Tip):
        return known
    last = session.scalar(select(AuditNode.place).order_by(AuditNode.place.desc()).limit(1))
    session.info[TIP] = Tip(last or 0, None, audit_nodes(session))
    found: Tip = session.info[TIP]
    return found


def erased_row(at: datetime) -> dict[str, Any]:
    """What an audit event says once it is erased: that it was, and when."""
    return {
        "at": at,
        "actor_id": None,
        "action": ERASED,
        "object_id": None,
        "enrolment_id": None,
        "facts": {},
    }


def says_nothing(event: AuditEvent, at: str) -> bool:
    """Whether an event erased at this moment says nothing else."""
    blank = erased_row(datetime.fromisoformat(at))
    return all(getattr(event, name) == value for name, value in blank.items())
