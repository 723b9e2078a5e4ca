"""What a view works with: the school's database and the act of whoever is asking."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from flask import current_app, g
from sqlalchemy.orm import Session

from gradebook.ledger.notes import Checkpoint
from gradebook.records import checkpoints
from gradebook.records.act import Act
from gradebook.records.commands import checkpointing, keyring
from gradebook.records.commands import people as accounts
from gradebook.records.commands.checkpointing import LedgerCheckpoint
from gradebook.records.database import Database
from gradebook.records.faults import InvalidError
from gradebook.records.pen import Pen, Signer, house_of
from gradebook.records.permissions import Actor
from gradebook.records.store import people
from gradebook.records.store.people import School
from gradebook.settings import Settings

NOBODY = Actor("", "", frozenset())


@dataclass(frozen=True, slots=True)
class Office:
    """One running installation: its settings and its database."""

    settings: Settings
    database: Database

    @property
    def house(self) -> Signer:
        """The school's own signer."""
        return house_of(self.settings.seed)

    @property
    def checkpoints(self) -> tuple[Path, ...]:
        """The folders that checkpoints are written to."""
        return checkpoints.folders(self.settings.data, self.settings.outside)


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
def acting(pen: Pen | None = None) -> Iterator[Act]:
    """An act that writes: committed when the block ends, before the answer leaves.

    It signs with `pen`, or else with the key that the session holds open. A checkpoint that
    has become due is issued in the same transaction and leaves the building after it.
    """
    here = office()
    with here.database.write() as session:
        yield Act(session, actor(), now(), zone(), pen or held_pen())
        row = _checkpoint(session)
    if row is not None:
        checkpoints.keep(row.note, row.size, here.checkpoints)


def _checkpoint(session: Session) -> LedgerCheckpoint | None:
    if not checkpointing.is_due(session, now()):
        return None
    here = office()
    row = people.school(session)
    known = checkpoints.newest(here.checkpoints, row.vkey) if row else None
    return checkpointing.issue(session, here.house, now(), known)


def outside() -> list[Checkpoint]:
    """The checkpoints kept outside the database; those that are not ours are left out."""
    row, here = school(), office()
    return list(checkpoints.kept(here.checkpoints, row.vkey)) if row else []


def held_pen() -> Pen:
    """The school's key, and the asker's own as their session holds it."""
    login, cookie = g.get("login"), g.get("cookie", "")
    opened = keyring.held(login, cookie) if login is not None else None
    own = None if opened is None else Signer(opened.kid, opened.seed, "session")
    return Pen(office().house, own)


def prove(person_id: str, typed: str) -> Pen:
    """A pen for somebody who has just typed their secret.

    A wrong one is remembered, then InvalidError at `secret`.
    """
    here = office()
    try:
        with here.database.read() as session:
            accounts.check_own_secret(session, person_id, typed, now(), here.settings.hash_cost)
            opened = keyring.unlock(session, person_id, typed)
    except InvalidError:
        with here.database.write() as session:
            accounts.note_failure(session, person_id, now())
        raise
    own = None if opened is None else Signer(opened.kid, opened.seed, "secret")
    return Pen(here.house, own)
