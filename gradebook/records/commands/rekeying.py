"""Changing the school's own key: in order, or because others may have it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.ledger import keys
from gradebook.ledger.canonical import parse
from gradebook.ledger.notes import Checkpoint
from gradebook.ledger.succession import COMPROMISED, ROTATE, SchoolKey
from gradebook.records.act import Act
from gradebook.records.commands import checkpointing, founding, keyring, sessions
from gradebook.records.commands.checkpointing import LedgerCheckpoint
from gradebook.records.faults import InvalidError, Problem
from gradebook.records.pen import house_of, vkey_of
from gradebook.records.store import auditing, ledger, people, schoolkeys
from gradebook.records.store.people import School
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import LedgerEntry, SigningKey
from syllabus.saying import say

ROTATED, DISOWNED = "system:key-rotate", "system:key-compromised"


@dataclass(frozen=True, slots=True)
class Compromise:
    """The school's key may be in others' hands, or is lost.

    `good_size`: how many entries, from the first, are known to be good. `why` in words.
    """

    good_size: int
    why: str


@dataclass(frozen=True, slots=True)
class Disowned:
    """What a compromise did: entries not believed any more, people who need a new key."""

    entries: tuple[int, ...]
    people: tuple[str, ...]
    checkpoint: LedgerCheckpoint | None = None


def rotate(
    session: Session, old: bytes, new: bytes, at: datetime, known: Checkpoint | None
) -> LedgerCheckpoint:
    """Let a new key follow the old one, both signing; the checkpoint signed by both.

    InvalidError when `old` is not in force; TornError when the ledger lacks what `known` says.
    """
    school, key = _school(session)
    if school.vkey != vkey_of(old, school.origin):
        raise InvalidError(
            Problem(
                "",
                say(
                    "The school.key in this folder is not the one in force, which has to sign "
                    "the change. If it is lost or others may have it: windtee key compromised."
                ),
            )
        )
    checkpointing.continues(session, known)
    act = founding.server_act(session, old, at, school.zone)
    _note(session, at, ROTATED, {"key": keys.kid(keys.public_of(new)), "follows": key.kid})
    checkpointing.mark_audit(session, house_of(old), at)
    placed = act.state(ROTATE, None, _change(session, school, key, new))
    school.vkey = vkey_of(new, school.origin)
    return checkpointing.keep(session, house_of(new), placed.seq, at, old)


def disowned_by(session: Session, command: Compromise) -> Disowned:
    """What the compromise would do; InvalidError for a good size that cannot be."""
    _, key = _school(session)
    size, good = ledger.size(session), command.good_size
    if not command.why.strip():
        raise InvalidError(Problem("why", say("Say what happened: it stands in the ledger.")))
    if good > size:
        words = say(
            "The ledger holds {size} entries: the good size cannot lie beyond them.", size=size
        )
        raise InvalidError(Problem("good_size", words))
    if good < key.since - 1:
        words = say(
            "The key in force came with entry {seq}; what is before it was signed by another "
            "key. The good size is {seq} or more.",
            seq=key.since - 1,
        )
        raise InvalidError(Problem("good_size", words))
    rows = _signed_beyond(session, key, good)
    introduced = _introduced_in(session, rows)
    return Disowned(tuple(row.seq for row in rows), tuple(row.id for row in introduced))


def disown(
    session: Session, new: bytes, at: datetime, command: Compromise, known: Checkpoint | None
) -> Disowned:
    """Let a new key take over and say how far the old one is believed.

    People whose keys were introduced beyond the good size need new ones: those are ended.
    """
    found = disowned_by(session, command)
    school, key = _school(session)
    checkpointing.continues(session, known)
    body = _change(session, school, key, new)
    school.vkey = vkey_of(new, school.origin)
    act = founding.server_act(session, new, at, school.zone)
    said = {"good_size": command.good_size, "why": command.why.strip()}
    act.state(COMPROMISED, None, {**body, **said})
    facts = {"key": body["kid"], "follows": key.kid, **said, "disowned": len(found.entries)}
    _note(session, at, DISOWNED, facts)
    _end_keys(act, found.people)
    row = checkpointing.issue(session, house_of(new), at, known)
    return Disowned(found.entries, found.people, row)


def _school(session: Session) -> tuple[School, SchoolKey]:
    school, line = people.school(session), schoolkeys.succession(session)
    if school is None or line.current is None:
        raise InvalidError(Problem("", say("There is no school with a ledger here.")))
    return school, line.current


def _change(session: Session, school: School, old: SchoolKey, new: bytes) -> dict[str, object]:
    """What the next entry says to let the new key follow at its very place."""
    public, after = keys.public_of(new), ledger.tip(session).leaf or ""
    kid = keys.kid(public)
    return {
        "kid": kid,
        "public": public.hex(),
        "holder": "school",
        "name": school.name,
        "follows": old.kid,
        "proof": keys.sign_succession(new, old.kid, kid, after).hex(),
    }


def _note(session: Session, at: datetime, action: str, facts: dict[str, object]) -> None:
    auditing.add(session, AuditEvent(at=at, action=action, facts=facts))


def _signed_beyond(session: Session, key: SchoolKey, good: int) -> list[LedgerEntry]:
    """The entries after the good size that the school's key signed."""
    rows = session.scalars(
        select(LedgerEntry).where(LedgerEntry.seq > good).order_by(LedgerEntry.seq)
    )
    return [row for row in rows if _field(row.entry, "kid") == key.kid]


def _introduced_in(session: Session, rows: Iterable[LedgerEntry]) -> list[SigningKey]:
    """The keys of people, still in force, that these entries introduced."""
    kids = [
        str(_field(row.statement, "body")["kid"]) for row in rows if row.kind == "key.enrol"
    ]
    query = select(SigningKey).where(SigningKey.id.in_(kids), SigningKey.revoked_at.is_(None))
    return list(session.scalars(query))


def _field(text: str, name: str) -> Any:  # noqa: ANN401 - a JSON value
    read = parse(text)
    return read[name] if isinstance(read, dict) else None


def _end_keys(act: Act, kids: tuple[str, ...]) -> None:
    for kid in kids:
        row = act.session.get(SigningKey, kid)
        if row is not None:
            keyring.end(act, row, "it was introduced by a key that was compromised")
            sessions.end_all(act.session, row.person_id)
