"""One-time links: to join, or to set a new secret. An administrator never chooses a secret."""

from datetime import datetime, timedelta

from sqlalchemy.orm import Session

from gradebook.records import secrets
from gradebook.records.act import Act
from gradebook.records.commands import factors, keyring, phones, sessions, throttling
from gradebook.records.commands.throttling import digest
from gradebook.records.faults import (
    ConflictError,
    ForbiddenError,
    GoneError,
    InvalidError,
    UnknownError,
)
from gradebook.records.permissions import Action
from gradebook.records.store import accounts, gate, people
from gradebook.records.tables.people import Invitation, Person
from gradebook.settings import HashCost
from syllabus.saying import say

LIFE = timedelta(hours=72)
OVER = {
    "used": say("This link has been used. If that was not you, tell an administrator now."),
    "withdrawn": say("This link was withdrawn. Ask an administrator for a new one."),
    "expired": say(
        "This link is too old: it is good for three days. Ask an administrator for a new one."
    ),
}
WAITS = say(
    "This link would also remove lost second factors, and waits for a second "
    "person's yes. Ask the chief instructor or another administrator to give "
    "it under People."
)


def invite(act: Act, person_id: str, *, clears_factors: bool = False) -> str:
    """A link for this person, as a token shown once; every open link before it is withdrawn.

    With `clears_factors` it waits for a second person's yes.
    """
    gate.demand(act.actor, Action.PEOPLE_CHANGE)
    person = people.person(act.session, person_id)
    if not person.active:
        raise ConflictError(
            say("The account of {person} is closed: open it first.", person=person.name)
        )
    token = new_link(act, person, clears_factors=clears_factors)
    act.note(
        Action.PEOPLE_CHANGE, person.id, None, made_link=True, clears_factors=clears_factors
    )
    return token


def new_link(act: Act, person: Person, *, clears_factors: bool = False) -> str:
    """The token of a new link, of which only the digest is kept."""
    withdraw_all(act.session, person.id, act.at)
    token = sessions.cookie_text()
    row = Invitation(
        id=digest(token),
        person_id=person.id,
        purpose="join" if person.secret_hash == secrets.UNSET else "reset",
        clears_factors=clears_factors,
        made_by=act.actor.person_id or None,
        made_at=act.at,
        expires_at=act.at + LIFE,
    )
    act.session.add(row)
    return token


def withdraw(act: Act, link_id: str) -> Invitation:
    """Make a link useless before it is used; the second person asked may do so too."""
    row = accounts.link(act.session, link_id)
    if accounts.state_of(row, act.at) != "unconfirmed" or not accounts.is_second(
        act.actor, row
    ):
        gate.demand(act.actor, Action.PEOPLE_CHANGE)
    if accounts.state_of(row, act.at) not in ("open", "unconfirmed"):
        raise ConflictError(say("This link was used or is over already."))
    row.withdrawn_at = act.at
    act.note(Action.PEOPLE_CONFIRM, row.person_id, None, withdrew_link=True)
    return row


def withdraw_all(session: Session, person_id: str, at: datetime) -> None:
    """Make every open link of a person useless."""
    for row in accounts.links_of(session, person_id):
        if accounts.state_of(row, at) in ("open", "unconfirmed"):
            row.withdrawn_at = at


def confirm(act: Act, link_id: str) -> Invitation:
    """A second person's yes to clearing lost second factors."""
    gate.demand(act.actor, Action.PEOPLE_CONFIRM)
    row = accounts.link(act.session, link_id)
    if accounts.state_of(row, act.at) != "unconfirmed":
        raise ConflictError(say("This link needs no yes any more."))
    if not accounts.is_second(act.actor, row):
        raise ForbiddenError(
            say("A second person has to say yes: not who asked, not whom it is for.")
        )
    row.confirmed_by = act.actor.person_id
    act.note(Action.PEOPLE_CONFIRM, row.person_id, None, confirmed_clearing_factors=True)
    return row


def opened(session: Session, token: str, at: datetime) -> tuple[Invitation, Person]:
    """The link of this token and whom it is for.

    UnknownError when there is none, GoneError when it is over, ConflictError while it waits
    for a second person.
    """
    row = accounts.link(session, digest(token))
    state = accounts.state_of(row, at)
    person = people.person(session, row.person_id)
    if state in OVER:
        raise GoneError(OVER[state])
    if not person.active:
        raise UnknownError
    if state == "unconfirmed":
        raise ConflictError(WAITS)
    return row, person


def accept(act: Act, token: str, secret: str, cost: HashCost) -> Person:
    """Set the secret through a link and end all the account had open, its signing keys too.

    Second factors stay, unless the link clears them. InvalidError at `new_secret`.
    """
    row, person = opened(act.session, token, act.at)
    if row.clears_factors:
        factors.clear(act.session, person.id)
    set_secret(act, person, secret, cost)
    for end in (keyring.revoke, phones.revoke_all):
        end(act, person.id, "a new secret was set through a link")
    row.used_at = act.at
    sessions.forget_devices(act.session, person.id)
    throttling.forget_account(act.session, person.id, person.email)
    own = Act(act.session, people.actor_of(person), act.at, act.zone)
    own.note(Action.ACCOUNT_KEEP, person.id, None, used_link=row.purpose)
    return person


def stands_beside_factor(session: Session, person: Person, *, cleared: bool = False) -> bool:
    """Whether a secret of this person has a second factor beside it, or will have to.

    `cleared`: the factors there are will be removed.
    """
    if factors.needed(people.actor_of(person)):
        return True
    return not cleared and accounts.has_factor(session, person.id)


def set_secret(act: Act, person: Person, secret: str, cost: HashCost) -> None:
    """A new secret, if it can stand; every session of the person ends."""
    school = people.school(act.session)
    about = (person.name, person.email, school.name if school else "")
    alone = not stands_beside_factor(act.session, person)
    if problems := secrets.check_secret(secret, about, alone=alone):
        raise InvalidError(*problems)
    person.secret_hash, person.must_change = secrets.hashed(secret, cost), False
    sessions.end_all(act.session, person.id)
