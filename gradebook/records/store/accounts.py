"""What an account consists of besides its roles: sessions, factors, links, requests."""

from datetime import datetime
from typing import Any

from sqlalchemy import BindParameter, ColumnElement, and_, bindparam, exists, func, select, true
from sqlalchemy.orm import Session, joinedload

from gradebook.records.faults import UnknownError
from gradebook.records.permissions import Action, Actor, may
from gradebook.records.store.together import Asked, together
from gradebook.records.tables.people import (
    Invitation,
    LoginSession,
    Person,
    RecoveryCode,
    RoleRequest,
    School,
    SecondFactor,
)


def sessions_of(session: Session, person_id: str) -> list[LoginSession]:
    """Where a person is signed in, the last used first."""
    query = select(LoginSession).where(LoginSession.person_id == person_id)
    return list(session.scalars(query.order_by(LoginSession.seen_at.desc())))


SIGNED_IN = (
    select(LoginSession, Person, School)
    .join(Person, Person.id == LoginSession.person_id)
    .outerjoin(School, true())
    .where(LoginSession.id == bindparam("login"))
    .options(joinedload(Person.grants))
)


def signed_in(
    session: Session, login_id: str
) -> tuple[LoginSession, Person, School | None] | None:
    """A session, whose it is with their roles, and the school: all the door asks, at once."""
    row = session.execute(SIGNED_IN, {"login": login_id}).unique().first()
    return None if row is None else (row[0], row[1], row[2])


def factors_of(session: Session, person_id: str, *kinds: str) -> list[SecondFactor]:
    """A person's second factors (of these kinds), the oldest first."""
    query = select(SecondFactor).where(SecondFactor.person_id == person_id)
    if kinds:
        query = query.where(SecondFactor.kind.in_(kinds))
    return list(session.scalars(query.order_by(SecondFactor.created_at, SecondFactor.id)))


def has_factor(session: Session, person_id: str) -> bool:
    """Whether a person has any second factor."""
    return bool(session.scalar(select(exists().where(SecondFactor.person_id == person_id))))


def codes_left(session: Session, person_id: str) -> int:
    """How many recovery codes a person has not used."""
    query = select(func.count()).where(
        RecoveryCode.person_id == person_id, RecoveryCode.used_at.is_(None)
    )
    return session.scalar(query) or 0


def links_of(session: Session, person_id: str) -> list[Invitation]:
    """Every link ever made for a person, the newest first."""
    query = select(Invitation).where(Invitation.person_id == person_id)
    return list(session.scalars(query.order_by(Invitation.made_at.desc(), Invitation.id)))


def state_of(link: Invitation, at: datetime) -> str:
    """What became of a link, in a word: used, withdrawn, expired, unconfirmed or open."""
    if link.used_at:
        return "used"
    if link.withdrawn_at:
        return "withdrawn"
    if link.expires_at <= at:
        return "expired"
    return "unconfirmed" if link.clears_factors and not link.confirmed_by else "open"


def link(session: Session, link_id: str) -> Invitation:
    """One link; UnknownError when there is none."""
    row = session.get(Invitation, link_id)
    if row is None:
        raise UnknownError
    return row


def request(session: Session, request_id: str) -> RoleRequest:
    """One request for a role; UnknownError when there is none."""
    row = session.get(RoleRequest, request_id)
    if row is None:
        raise UnknownError
    return row


def requests(session: Session, person_id: str | None = None) -> list[RoleRequest]:
    """Requests for roles that nobody has decided, the oldest first."""
    query = select(RoleRequest).where(_undecided())
    if person_id is not None:
        query = query.where(RoleRequest.person_id == person_id)
    return list(session.scalars(query.order_by(RoleRequest.asked_at, RoleRequest.id)))


def _undecided() -> ColumnElement[bool]:
    return RoleRequest.decided_at.is_(None)


def unconfirmed_links(session: Session, at: datetime) -> list[Invitation]:
    """Links that would clear second factors and wait for a second person."""
    query = select(Invitation).where(_unconfirmed(at))
    return list(session.scalars(query.order_by(Invitation.made_at, Invitation.id)))


def _unconfirmed(at: datetime | BindParameter[datetime]) -> ColumnElement[bool]:
    return and_(
        Invitation.clears_factors,
        Invitation.confirmed_by.is_(None),
        Invitation.used_at.is_(None),
        Invitation.withdrawn_at.is_(None),
        Invitation.expires_at > at,
    )


def is_second(actor: Actor, row: RoleRequest | Invitation) -> bool:
    """Whether this actor may be the second person: neither who asked nor whom it is about."""
    asker = row.asked_by if isinstance(row, RoleRequest) else row.made_by
    return _stands_apart(actor, asker, row.person_id)


def _stands_apart(actor: Actor, asker: str | None, about: str) -> bool:
    return actor.person_id not in (asker, about) and may(actor, Action.PEOPLE_CONFIRM)


def undecided(session: Session, actor: Actor, at: datetime) -> set[str]:
    """The ids of requests and links that wait for this actor's yes or no as second person."""
    return undecided_and(session, actor, at)[0]


UNDECIDED = Asked(
    select(RoleRequest.id, RoleRequest.asked_by.label("asker"), RoleRequest.person_id).where(
        _undecided()
    )
)
UNCONFIRMED = Asked(
    select(Invitation.id, Invitation.made_by.label("asker"), Invitation.person_id).where(
        _unconfirmed(bindparam("unconfirmed_at"))
    )
)


def undecided_and(
    session: Session, actor: Actor, at: datetime, *more: Asked
) -> tuple[set[str], list[list[Any]]]:
    """The same, with the rows of what else is asked."""
    if not may(actor, Action.PEOPLE_CONFIRM):
        return set(), together(session, *more) if more else []
    links = UNCONFIRMED.of(unconfirmed_at=at)
    asked, links_asked, *rest = together(session, UNDECIDED, links, *more)
    waiting = {
        row.id
        for row in (*asked, *links_asked)
        if _stands_apart(actor, row.asker, row.person_id)
    }
    return waiting, rest
