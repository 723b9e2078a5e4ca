"""Accounts: the school, people, roles, secrets, and sign-in with its throttle."""

import hashlib
import re
import secrets as randomness
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from gradebook.records import secrets
from gradebook.records.act import Act
from gradebook.records.faults import ConflictError, InvalidError, Problem
from gradebook.records.permissions import Action, Role
from gradebook.records.store import gate, people
from gradebook.records.tables.people import LoginAttempt, LoginSession, Person, RoleGrant
from gradebook.settings import HashCost

IDLE, ABSOLUTE = timedelta(hours=1), timedelta(hours=12)
WINDOW, MOST_FAILURES = timedelta(minutes=5), 10
EMAIL = re.compile(r"[^@\s]+@[^@\s]+\.[^@\s]+")


@dataclass(frozen=True, slots=True)
class AddPerson:
    """A new account. The person is asked to change the secret at first sign-in."""

    name: str
    email: str
    certificate: str
    roles: Sequence[Role]
    secret: str


@dataclass(frozen=True, slots=True)
class SetRoles:
    """The roles a person shall hold from now on, and whether the account is active."""

    person_id: str
    roles: Sequence[Role]
    active: bool


def add_person(act: Act, command: AddPerson, cost: HashCost) -> Person:
    """A new account; refused when the e-mail address is taken or the secret is weak."""
    gate.demand(act.actor, Action.PEOPLE_CHANGE)
    name, email = command.name.strip(), command.email.strip().lower()
    problems = secrets.check_secret(command.secret, name, "secret")
    if not name:
        problems.append(Problem("name", "Enter the name."))
    if not EMAIL.fullmatch(email):
        problems.append(
            Problem("email", "Enter an e-mail address, such as name@school.example.")
        )
    elif people.person_by_email(act.session, email):
        problems.append(Problem("email", "Somebody already has this e-mail address."))
    if problems:
        raise InvalidError(*problems)
    row = new_person(act.session, command, act.at, cost)
    row.must_change = True
    facts = {"roles": [role.value for role in command.roles]}
    act.note(Action.PEOPLE_CHANGE, row.id, None, added=name, **facts)
    return row


def new_person(session: Session, command: AddPerson, at: datetime, cost: HashCost) -> Person:
    """The row of a new account, with its roles; the caller has checked it."""
    row = Person(
        name=command.name.strip(),
        email=command.email.strip().lower(),
        certificate=command.certificate.strip(),
        secret_hash=secrets.hasher(cost).hash(command.secret),
        created_at=at,
    )
    session.add(row)
    row.grants.extend(RoleGrant(role=role.value, granted_at=at) for role in command.roles)
    session.flush()
    return row


def set_roles(act: Act, command: SetRoles) -> Person:
    """Grant and revoke roles; an administrator cannot lock out the last administrator."""
    gate.demand(act.actor, Action.PEOPLE_CHANGE)
    person = people.person(act.session, command.person_id)
    held, wanted = people.roles_of(person), frozenset(command.roles)
    stays = command.active and Role.ADMINISTRATOR in wanted
    others = [
        row
        for row in people.people_with(act.session, Role.ADMINISTRATOR)
        if row.id != person.id
    ]
    if Role.ADMINISTRATOR in held and not stays and not others:
        raise InvalidError(Problem("roles", "Somebody must remain administrator."))
    for grant in person.grants:
        if grant.revoked_at is None and Role(grant.role) not in wanted:
            grant.revoked_at = act.at
    person.grants.extend(
        RoleGrant(role=role.value, granted_at=act.at) for role in sorted(wanted - held)
    )
    person.active = command.active
    if not command.active:
        sign_out_everywhere(act.session, person.id)
    roles = sorted(role.value for role in wanted)
    act.note(Action.PEOPLE_CHANGE, person.id, None, roles=roles, active=command.active)
    return person


def reset_secret(act: Act, person_id: str, secret: str, cost: HashCost) -> Person:
    """A new first secret, set by an administrator; the person must change it."""
    gate.demand(act.actor, Action.PEOPLE_CHANGE)
    person = people.person(act.session, person_id)
    if problems := secrets.check_secret(secret, person.name, "secret"):
        raise InvalidError(*problems)
    person.secret_hash = secrets.hasher(cost).hash(secret)
    person.must_change = True
    sign_out_everywhere(act.session, person.id)
    act.note(Action.PEOPLE_CHANGE, person.id, None, reset_secret=True)
    return person


def change_secret(act: Act, new: str, cost: HashCost) -> None:
    """The actor's own new secret; every other session of theirs ends."""
    person = people.person(act.session, act.actor.person_id)
    if problems := secrets.check_secret(new, person.name):
        raise InvalidError(*problems)
    person.secret_hash = secrets.hasher(cost).hash(new)
    person.must_change = False
    sign_out_everywhere(act.session, person.id)
    act.note(Action.HOME_READ, person.id, None, changed_own_secret=True)


def digest(text: str) -> str:
    """SHA-256, hexadecimal: what the database keeps of cookies and addresses."""
    return hashlib.sha256(text.encode()).hexdigest()


def throttled(session: Session, subject: str, at: datetime) -> bool:
    """Whether this subject (account and address) has failed too often in the last minutes."""
    query = select(func.count()).where(
        LoginAttempt.subject == digest(subject), LoginAttempt.failed_at > at - WINDOW
    )
    return (session.scalar(query) or 0) >= MOST_FAILURES


def note_failure(session: Session, subject: str, at: datetime) -> None:
    """Remember one failed attempt."""
    session.add(LoginAttempt(subject=digest(subject), failed_at=at))


def start_session(session: Session, person: Person, at: datetime) -> str:
    """Open a session; gives the cookie, of which only the digest is kept."""
    session.execute(delete(LoginSession).where(LoginSession.created_at < at - ABSOLUTE))
    cookie = randomness.token_urlsafe(32)
    row = LoginSession(id=digest(cookie), person_id=person.id, created_at=at, seen_at=at)
    session.add(row)
    return cookie


def end_session(session: Session, cookie: str) -> None:
    """End the session of this cookie."""
    session.execute(delete(LoginSession).where(LoginSession.id == digest(cookie)))


def sign_out_everywhere(session: Session, person_id: str) -> None:
    """End every session of a person."""
    session.execute(delete(LoginSession).where(LoginSession.person_id == person_id))


def session_of(
    session: Session, cookie: str, at: datetime
) -> tuple[LoginSession, Person] | None:
    """The live session of a cookie and its person; None when dead, idle or disabled."""
    row = session.get(LoginSession, digest(cookie))
    if row is None or at - row.seen_at > IDLE or at - row.created_at > ABSOLUTE:
        return None
    person = session.get(Person, row.person_id)
    if person is None or not person.active:
        return None
    return row, person


def check_own_secret(
    session: Session, person_id: str, typed: str, at: datetime, cost: HashCost
) -> Person:
    """The person, if the secret typed is theirs; else InvalidError at `secret`, throttled."""
    if throttled(session, person_id, at):
        raise ConflictError("Too many wrong secrets. Wait five minutes; nothing is lost.")
    person = people.person(session, person_id)
    if not person.active or not secrets.matches(person.secret_hash, typed, cost):
        raise InvalidError(Problem("secret", "This is not the secret of this account."))
    return person


def keep_awake(session: Session, cookie: str, at: datetime) -> None:
    """Note that the session of this cookie was used."""
    row = session.get(LoginSession, digest(cookie))
    if row is not None:
        row.seen_at = at


def bare_person(act: Act, name: str, email: str, secret_hash: str) -> Person:
    """An account with a given hash and no role yet."""
    row = Person(
        name=name, email=email, certificate="", secret_hash=secret_hash, created_at=act.at
    )
    act.session.add(row)
    act.session.flush()
    return row


def grant(act: Act, person: Person, role: Role) -> None:
    """Let the person hold the role, unless they do already."""
    if role not in people.roles_of(person):
        person.grants.append(RoleGrant(role=role.value, granted_at=act.at))
        act.session.flush()
