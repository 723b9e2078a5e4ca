"""People's own signing keys: made, opened by their secret, held by a session, revoked.

The private half is kept wrapped by a key that argon2id makes of the owner's secret, so the
server at rest cannot sign for anybody. While somebody is signed in it is also kept wrapped by
their cookie, of which the database knows only the digest. Keys that only a phone holds are in
`phones`.
"""

import os
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.ledger import keys
from gradebook.ledger.keys import WrongKeyError
from gradebook.records import secrets
from gradebook.records.act import Act
from gradebook.records.store import people
from gradebook.records.tables.ledger import SigningKey
from gradebook.records.tables.people import LoginSession
from gradebook.settings import HashCost

HELD = "windtee session key"


@dataclass(frozen=True, slots=True)
class Unlocked:
    """A person's signing key, open."""

    kid: str
    seed: bytes


def key_of(session: Session, person_id: str) -> SigningKey | None:
    """The person's own key, with which they sign now."""
    query = select(SigningKey).where(
        SigningKey.person_id == person_id,
        SigningKey.revoked_at.is_(None),
        SigningKey.device.is_(None),
    )
    return session.scalars(query).one_or_none()


def _cost_words(cost: HashCost) -> str:
    return f"{cost.passes},{cost.memory_kib},{cost.lanes}"


def _wrapping(secret: str, salt: bytes, cost: str) -> bytes:
    passes, memory_kib, lanes = (int(part) for part in cost.split(","))
    return keys.derive(secrets.plain(secret), salt, passes, memory_kib, lanes)


def make_key(act: Act, person_id: str, secret: str, cost: HashCost) -> Unlocked:
    """A new key for somebody who has none, wrapped by their secret."""
    salt = os.urandom(16)
    return enrol_key(act, person_id, salt, cost, _wrapping(secret, salt, _cost_words(cost)))


def enrol_key(
    act: Act, person_id: str, salt: bytes, cost: HashCost, wrapping: bytes
) -> Unlocked:
    """A new key under a wrapping key that the caller made of salt and cost."""
    seed = keys.new_key()
    public = keys.public_of(seed)
    kid = keys.kid(public)
    row = SigningKey(
        id=kid,
        person_id=person_id,
        public=public.hex(),
        salt=salt,
        cost=_cost_words(cost),
        wrapped=keys.wrap(seed, wrapping, kid),
        enrolled_at=act.at,
    )
    introduce(act, row)
    return Unlocked(kid, seed)


def introduce(act: Act, row: SigningKey) -> None:
    """Keep a new key, and let the ledger say whose it is."""
    act.session.add(row)
    holder = people.person(act.session, row.person_id)
    body = {
        "kid": row.id,
        "public": row.public,
        "holder": row.person_id,
        "name": holder.name,
        "certificate": holder.certificate,
    }
    if row.device is not None:
        body["device"] = row.device
    act.as_school().state("key.enrol", None, body)


def unlock(session: Session, person_id: str, secret: str) -> Unlocked | None:
    """The person's key, if this is their secret; None when it is not, or there is no key."""
    row = key_of(session, person_id)
    if row is None:
        return None
    try:
        seed = keys.unwrap(row.wrapped, _wrapping(secret, row.salt, row.cost), row.id)
    except WrongKeyError:
        return None
    return Unlocked(row.id, seed)


def rewrap(
    session: Session, person_id: str, unlocked: Unlocked, new_secret: str, cost: HashCost
) -> None:
    """The same key under a new secret."""
    row = key_of(session, person_id)
    if row is None or row.id != unlocked.kid:
        raise RuntimeError("the key that was opened is not this person's")
    row.salt, row.cost = os.urandom(16), _cost_words(cost)
    row.wrapped = keys.wrap(
        unlocked.seed, _wrapping(new_secret, row.salt, row.cost), unlocked.kid
    )


def hold(row: LoginSession, unlocked: Unlocked, cookie: str) -> None:
    """Keep the key in a session, where only its cookie opens it."""
    wrapping = keys.derive_from_cookie(cookie, HELD)
    row.held_key = keys.wrap(unlocked.kid.encode() + unlocked.seed, wrapping, row.person_id)


def held(row: LoginSession, cookie: str) -> Unlocked | None:
    """The key a session holds, opened by its cookie; None when it holds none."""
    if row.held_key is None:
        return None
    try:
        opened = keys.unwrap(row.held_key, keys.derive_from_cookie(cookie, HELD), row.person_id)
    except WrongKeyError:
        return None
    return Unlocked(opened[:-32].decode(), opened[-32:])


def revoke(act: Act, person_id: str, why: str) -> None:
    """End the person's key; what it signed before stays good."""
    row = key_of(act.session, person_id)
    if row is not None:
        end(act, row, why)


def end(act: Act, row: SigningKey, why: str) -> None:
    """End a key, and let the ledger say so."""
    row.revoked_at = act.at
    act.as_school().state("key.revoke", None, {"kid": row.id, "why": why})
