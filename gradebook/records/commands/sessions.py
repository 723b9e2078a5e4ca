"""Sessions: opened at sign-in, renewed at the second factor, ended by time or by hand."""

import secrets as randomness
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from gradebook.records.act import Act
from gradebook.records.commands import jobs, keyring, throttling
from gradebook.records.commands.keyring import Unlocked
from gradebook.records.commands.throttling import digest
from gradebook.records.faults import ConflictError, UnknownError
from gradebook.records.permissions import Action, Actor, Role
from gradebook.records.store import accounts, gate, people
from gradebook.records.tables.people import KnownDevice, LoginSession, Person, School
from syllabus.saying import say

IDLE, IDLE_OF_POWER, ABSOLUTE = timedelta(hours=1), timedelta(minutes=30), timedelta(hours=12)
POWER = frozenset({Role.CHIEF, Role.ADMINISTRATOR})
FRESH = timedelta(minutes=10)
"""How long after showing it a factor counts for changing the factors."""


@dataclass(frozen=True, slots=True)
class Browser:
    """Where a request comes from: its address, the device in words, the device's cookie."""

    address: str
    words: str
    device: str = ""


def cookie_text() -> str:
    """A cookie or link nobody can guess: 256 bits."""
    return randomness.token_urlsafe(32)


@dataclass(frozen=True, slots=True)
class Opened:
    """A session just opened or renewed, and its cookie, of which only the digest is kept."""

    row: LoginSession
    cookie: str


def start(
    act: Act, person: Person, browser: Browser, key: Unlocked | None, *, shown: bool = False
) -> Opened:
    """Open a session that holds the person's key.

    Whoever has a second factor but has not `shown` it gets a session that waits for it.
    """
    act.session.execute(delete(LoginSession).where(LoginSession.created_at < act.at - ABSOLUTE))
    throttling.forget_old(act.session, act.at)
    jobs.forget_old(act.session, act.at)
    cookie = cookie_text()
    row = LoginSession(
        id=digest(cookie),
        person_id=person.id,
        created_at=act.at,
        seen_at=act.at,
        second_at=act.at if shown else None,
        waits=not shown and accounts.has_factor(act.session, person.id),
        address=browser.address[:60],
        agent=browser.words[:120],
    )
    if key is not None:
        keyring.hold(row, key, cookie)
    act.session.add(row)
    return Opened(row, cookie)


def raised(act: Act, session_id: str, old: str, kind: str) -> Opened:
    """A second factor of this kind was shown: the session is whole and has a new cookie."""
    row = act.session.get(LoginSession, session_id)
    if row is None:
        raise ConflictError(say("This session has ended. Sign in again."))
    key, cookie = keyring.held(row, old), cookie_text()
    row.id, row.waits, row.second_at, row.challenge = digest(cookie), False, act.at, None
    if key is not None:
        keyring.hold(row, key, cookie)
    act.note(Action.ACCOUNT_KEEP, row.person_id, None, factor_shown=kind)
    return Opened(row, cookie)


def device_id(device: str, person_id: str) -> str:
    """What is kept of a device's cookie: one digest for each person who uses the device."""
    return digest(f"{device} {person_id}")


def knows(session: Session, device: str, person_id: str) -> str:
    """The known device of this cookie, or nothing when the person never signed in there."""
    row = session.get(KnownDevice, device_id(device, person_id)) if device else None
    return row.id if row else ""


def remember(act: Act, person_id: str, device: str) -> None:
    """Know this device, on which the person has signed in, all factors shown."""
    row = act.session.get(KnownDevice, device_id(device, person_id))
    if row is None:
        row = KnownDevice(
            id=device_id(device, person_id), person_id=person_id, created_at=act.at
        )
        act.session.add(row)
    row.seen_at = act.at


@dataclass(frozen=True, slots=True)
class Alive:
    """A live session, its person, who they are, and the school (None before it is set up)."""

    row: LoginSession
    person: Person
    actor: Actor
    school: School | None


def alive(session: Session, cookie: str, at: datetime) -> Alive | None:
    """The live session of a cookie; None when it is dead or its person disabled.

    Idle for an hour it dies, for half an hour with the roles of power; after twelve hours
    in any case.
    """
    found = accounts.signed_in(session, digest(cookie))
    if found is None or not found[1].active:
        return None
    row, person, school = found
    actor = people.actor_of(person)
    idle = IDLE_OF_POWER if actor.roles & POWER else IDLE
    if at - row.seen_at > idle or at - row.created_at > ABSOLUTE:
        return None
    return Alive(row, person, actor, school)


def keep_awake(session: Session, session_id: str, at: datetime) -> None:
    """Note that this session was used."""
    row = session.get(LoginSession, session_id)
    if row is not None:
        row.seen_at = at


def sign_out(act: Act, session_id: str) -> None:
    """End the session of this very browser."""
    row = act.session.get(LoginSession, session_id)
    if row is not None:
        act.session.delete(row)
        act.note(Action.ACCOUNT_KEEP, row.person_id, None, signed_out=True)


def end_one(session: Session, session_id: str) -> None:
    """End a session that another takes the place of."""
    session.execute(delete(LoginSession).where(LoginSession.id == session_id))


def end(act: Act, session_id: str) -> None:
    """End one session of the actor's own; UnknownError for anybody else's."""
    row = act.session.get(LoginSession, session_id)
    if row is None or row.person_id != act.actor.person_id:
        raise UnknownError
    act.session.delete(row)
    act.note(Action.ACCOUNT_KEEP, act.actor.person_id, None, ended_session=row.agent)


def end_others(act: Act, kept: str) -> int:
    """End every session of the actor's own but this one."""
    number = end_all(act.session, act.actor.person_id, kept)
    act.note(Action.ACCOUNT_KEEP, act.actor.person_id, None, ended_sessions=number)
    return number


def end_of(act: Act, person_id: str) -> int:
    """An administrator ends every session of a person, who may sign in anew."""
    gate.demand(act.actor, Action.PEOPLE_CHANGE)
    person = people.person(act.session, person_id)
    number = end_all(act.session, person.id)
    act.note(Action.PEOPLE_CHANGE, person.id, None, ended_sessions=number)
    return number


def end_all(session: Session, person_id: str, kept: str = "") -> int:
    """End every session of a person but `kept`; how many these were."""
    query = select(LoginSession.id).where(
        LoginSession.person_id == person_id, LoginSession.id != kept
    )
    ended = list(session.scalars(query))
    session.execute(delete(LoginSession).where(LoginSession.id.in_(ended)))
    return len(ended)


def forget_devices(session: Session, person_id: str) -> None:
    """No browser is known any more for this person."""
    session.execute(delete(KnownDevice).where(KnownDevice.person_id == person_id))
