"""The school's own row and key: how a ledger begins."""

import re
import unicodedata
from datetime import datetime

from sqlalchemy.orm import Session

from gradebook.ledger import keys
from gradebook.records.act import Act
from gradebook.records.pen import Pen, house_of, vkey_of
from gradebook.records.permissions import Actor
from gradebook.records.store import people
from gradebook.records.tables.columns import new_id
from gradebook.records.tables.people import School

SERVER = Actor("", "the server", frozenset())


def origin_of(name: str, school_id: str) -> str:
    """How checkpoints name this school's ledger: plain letters, and part of its id."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    words = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40] or "school"
    return f"{words}-{school_id[:8]}/windtee"


def server_act(session: Session, seed: bytes, at: datetime, zone: str = "UTC") -> Act:
    """An act of the server itself, signed by the school's key."""
    return Act(session, SERVER, at, zone, Pen(house_of(seed)))


def found(session: Session, seed: bytes, name: str, zone: str, at: datetime) -> School:
    """Make the school; the ledger's first entry is its name and its key."""
    row = School(id=new_id(), name=name, zone=zone, created_at=at)
    session.add(row)
    open_ledger(server_act(session, seed, at, zone), row)
    return row


def open_ledger(act: Act, row: School) -> None:
    """Enter the school's name and key as the first entry."""
    if act.pen is None:
        raise RuntimeError("a ledger is opened with the school's key")
    seed = act.pen.house.seed
    row.origin = origin_of(row.name, row.id)
    row.vkey = vkey_of(seed, row.origin)
    public = keys.public_of(seed)
    body = {
        "school": row.id,
        "name": row.name,
        "zone": row.zone,
        "origin": row.origin,
        "kid": keys.kid(public),
        "public": public.hex(),
        "holder": "school",
    }
    act.state("school.open", None, body)


def holds_key(session: Session, seed: bytes) -> bool:
    """Whether this is the school's key in force."""
    row = people.school(session)
    return row is not None and row.vkey == vkey_of(seed, row.origin)
