"""Signing in: the secret checked, the signing key opened, a session begun."""

from dataclasses import dataclass
from datetime import timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.records import secrets
from gradebook.records.act import Act
from gradebook.records.commands import keyring, sessions, throttling
from gradebook.records.commands.keyring import Unlocked
from gradebook.records.commands.sessions import Browser, Opened
from gradebook.records.commands.throttling import Guess
from gradebook.records.faults import InvalidError, Problem
from gradebook.records.permissions import Action
from gradebook.records.store import people
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.people import Person
from gradebook.settings import HashCost
from syllabus.saying import say

WRONG = say("E-mail address and secret do not match.")
SELDOM = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class SignIn:
    """What somebody typed to sign in, and where."""

    email: str
    secret: str
    browser: Browser


def guess_of(session: Session, command: SignIn) -> Guess:
    """The bucket this attempt is counted in."""
    person = people.person_by_email(session, command.email)
    device = sessions.knows(session, command.browser.device, person.id) if person else ""
    return Guess(throttling.secret_of(command.email), command.browser.address, device)


def recognise(session: Session, command: SignIn, cost: HashCost) -> Person:
    """Whose account this is; InvalidError, in one wording for every cause, when nobody's.

    It takes as long for an address nobody has.
    """
    person = people.person_by_email(session, command.email)
    known = person.secret_hash if person is not None else secrets.UNSET
    right = secrets.matches(known, command.secret, cost)
    if person is None or not right or not person.active:
        raise InvalidError(Problem("secret", WRONG))
    return person


def opened_key(session: Session, person_id: str, secret: str) -> Unlocked | None:
    """The signing key of whoever has this secret; None when they have no key yet."""
    with secrets.turn():
        return keyring.unlock(session, person_id, secret)


def enter(
    act: Act, person_id: str, command: SignIn, key: Unlocked | None, cost: HashCost
) -> Opened:
    """Begin a session for somebody recognised; the hash is made anew if it was too cheap."""
    person = people.person(act.session, person_id)
    if not person.active:
        raise InvalidError(Problem("secret", WRONG))
    if secrets.outgrown(person.secret_hash, cost):
        person.secret_hash = secrets.hashed(command.secret, cost)
        if key is not None:
            with secrets.turn():
                keyring.rewrap(act.session, person.id, key, command.secret, cost)
    if key is None:
        keyring.revoke(act, person.id, "it did not open with the secret")
        with secrets.turn():
            key = keyring.make_key(act, person.id, command.secret, cost)
    opened = sessions.start(act, person, command.browser, key)
    own = Act(act.session, people.actor_of(person), act.at, act.zone)
    where = {"address": command.browser.address, "device": command.browser.words}
    own.note(Action.ACCOUNT_KEEP, person.id, None, secret_shown=True, **where)
    return opened


def note_failure(act: Act, command: SignIn) -> None:
    """Put a failed attempt in the trail, once a minute at most for each account.

    Nothing of what was typed is kept: people type secrets into the wrong field.
    """
    person = people.person_by_email(act.session, command.email)
    about = person.id if person is not None else None
    note_seldom(
        act, Action.ACCOUNT_KEEP, about, failed_sign_in=True, address=command.browser.address
    )


def note_seldom(act: Act, action: Action, about: str | None, **facts: object) -> None:
    """Put in the trail what somebody can do many times a second, once a minute at most."""
    asker = act.actor.person_id or None
    recent = select(AuditEvent).where(
        AuditEvent.at > act.at - SELDOM,
        AuditEvent.action == action.value,
        AuditEvent.object_id.is_not_distinct_from(about),
        AuditEvent.actor_id.is_not_distinct_from(asker),
    )
    if not any(facts.items() <= event.facts.items() for event in act.session.scalars(recent)):
        act.note(action, about, None, **facts)
