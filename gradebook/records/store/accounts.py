"""What an account consists of besides its roles: sessions, factors, links, requests."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session

from gradebook.records.faults import UnknownError
from gradebook.records.permissions import Action, Actor, may
from gradebook.records.tables.people import (
    Invitation,
    LoginSession,
    RecoveryCode,
    RoleRequest,
    SecondFactor,
)


def sessions_of(session: Session, person_id: str) -> list[LoginSession]:
    """Where a person is signed in, the last used first."""
    query = select(LoginSession).where(LoginSession.person_id == person_id)
    return list(session.scalars(query.order_by(LoginSession.seen_at.desc())))


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
    query = select(RoleRequest).where(RoleRequest.decided_at.is_(None))
    if person_id is not None:
        query = query.where(RoleRequest.person_id == person_id)
    return list(session.scalars(query.order_by(RoleRequest.asked_at, RoleRequest.id)))


def unconfirmed_links(session: Session, at: datetime) -> list[Invitation]:
    """Links that would clear second factors and wait for a second person."""
    query = select(Invitation).where(
        Invitation.clears_factors,
        Invitation.confirmed_by.is_(None),
        Invitation.used_at.is_(None),
        Invitation.withdrawn_at.is_(None),
        Invitation.expires_at > at,
    )
    return list(session.scalars(query.order_by(Invitation.made_at, Invitation.id)))


def is_second(actor: Actor, row: RoleRequest | Invitation) -> bool:
    """Whether this actor may be the second person: neither who asked nor whom it is about."""
    asker = row.asked_by if isinstance(row, RoleRequest) else row.made_by
    stands_apart = actor.person_id not in (asker, row.person_id)
    return stands_apart and may(actor, Action.PEOPLE_CONFIRM)


def undecided(
    session: Session, actor: Actor, at: datetime
) -> Sequence[RoleRequest | Invitation]:
    """What waits for this actor's yes or no as the second person."""
    rows: list[RoleRequest | Invitation] = [*requests(session)]
    rows += unconfirmed_links(session, at)
    return [row for row in rows if is_second(actor, row)]
