"""What a view works with: the school's database and the act of whoever is asking."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime

from flask import current_app, g

from gradebook.records.act import Act
from gradebook.records.commands import people as accounts
from gradebook.records.database import Database
from gradebook.records.faults import InvalidError
from gradebook.records.permissions import Actor
from gradebook.records.store.people import School
from gradebook.settings import Settings

NOBODY = Actor("", "", frozenset())


@dataclass(frozen=True, slots=True)
class Office:
    """One running installation: its settings and its database."""

    settings: Settings
    database: Database


def office() -> Office:
    """The installation that serves this request."""
    found: Office = current_app.extensions["windtee"]
    return found


def now() -> datetime:
    """The moment of this request, the same throughout."""
    if "now" not in g:
        g.now = office().settings.now()
    moment: datetime = g.now
    return moment


def actor() -> Actor:
    """Who is asking; nobody on public pages."""
    found: Actor = g.get("actor", NOBODY)
    return found


def school() -> School | None:
    """The school, or None before it has been set up."""
    found: School | None = g.get("school")
    return found


def zone() -> str:
    """The school's zone (IANA name)."""
    found: str = g.get("zone", "UTC")
    return found


@contextmanager
def reading() -> Iterator[Act]:
    """An act that only reads."""
    with office().database.read() as session:
        yield Act(session, actor(), now(), zone())


@contextmanager
def acting() -> Iterator[Act]:
    """An act that writes: committed when the block ends, before the answer leaves."""
    with office().database.write() as session:
        yield Act(session, actor(), now(), zone())


def check_secret(person_id: str, typed: str) -> None:
    """Return when the secret is this person's; a wrong one is remembered, then InvalidError."""
    here = office()
    try:
        with here.database.read() as session:
            accounts.check_own_secret(session, person_id, typed, now(), here.settings.hash_cost)
    except InvalidError:
        with here.database.write() as session:
            accounts.note_failure(session, person_id, now())
        raise
