"""People and the school."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session, joinedload, selectinload

from gradebook.records.certificates import AHEAD, SIGNING, Certificate, Term
from gradebook.records.faults import UnknownError
from gradebook.records.permissions import Actor, Role
from gradebook.records.store.together import Asked
from gradebook.records.tables.people import Person, RoleGrant
from gradebook.records.tables.people import School as School


def roles_of(person: Person) -> frozenset[Role]:
    """The roles this person holds now."""
    return frozenset(Role(grant.role) for grant in person.grants if grant.revoked_at is None)


def actor_of(person: Person) -> Actor:
    """The person as somebody who acts."""
    return Actor(person.id, person.name, roles_of(person))


def certificate_of(person: Any) -> Certificate:  # noqa: ANN401 - or a row with its columns
    """The person's certificate, as it was entered."""
    term = Term(person.certificate_term or "")
    return Certificate(person.certificate, term, person.certificate_until)


def person(session: Session, person_id: str) -> Person:
    """One person; UnknownError when there is none."""
    row = session.get(Person, person_id, options=[joinedload(Person.grants)])
    if row is None:
        raise UnknownError
    return row


def person_by_email(session: Session, email: str) -> Person | None:
    """The person with this e-mail address, whatever its case."""
    wanted = email.strip().lower()
    return session.scalars(
        select(Person).where(func.lower(Person.email) == wanted)
    ).one_or_none()


def people(session: Session) -> list[Person]:
    """Everybody, by name."""
    query = select(Person).options(selectinload(Person.grants))
    return list(session.scalars(query.order_by(Person.name, Person.id)))


_HELD = (RoleGrant.revoked_at.is_(None), Person.active)
HOLDING = Asked(
    select(Person.id, Person.name)
    .join(RoleGrant)
    .distinct()
    .where(RoleGrant.role.in_(bindparam("roles", expanding=True)), *_HELD)
)


def holding(*roles: Role) -> Asked:
    """Asks for id and name of active people who hold one of these roles now."""
    return HOLDING.of(roles=roles)


def people_with(session: Session, *roles: Role) -> list[Person]:
    """Active people who hold one of these roles now, by name."""
    query = (
        select(Person)
        .join(RoleGrant)
        .where(RoleGrant.role.in_(roles), RoleGrant.revoked_at.is_(None), Person.active)
        .order_by(Person.name)
    )
    return list(session.scalars(query).unique())


ENDING = Asked(
    select(
        Person.name,
        Person.certificate_term,
        Person.certificate_until,
        Person.certificate.label("certificate"),
    )
    .join(RoleGrant)
    .distinct()
    .where(
        RoleGrant.role.in_(SIGNING),
        Person.certificate_until <= bindparam("certified_until"),
        *_HELD,
    )
)


def ending(today: date) -> Asked:
    """Asks for the certificates that end soon or have, of those who sign."""
    return ENDING.of(certified_until=today + AHEAD)


def certificates_by_name(rows: Iterable[Any]) -> dict[str, Certificate]:
    """Certificates by their holder's name, the first to end first, of what `ending` asks."""
    sooner = sorted(rows, key=lambda row: (row.certificate_until, row.name))
    return {row.name: certificate_of(row) for row in sooner}


NAMED = Asked(select(Person.id, Person.name))
"""Everybody's id and name."""


def names(session: Session) -> dict[str, str]:
    """Everybody's name by id."""
    return by_id(NAMED.rows(session))


def by_id(rows: Iterable[Any]) -> dict[str, str]:
    """Names by id, of the rows of NAMED."""
    return {row.id: row.name for row in rows}


def school(session: Session) -> School | None:
    """The school, or None before it has been set up."""
    return session.scalars(select(School)).first()
