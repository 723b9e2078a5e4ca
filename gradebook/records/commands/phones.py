"""Keys that only a phone holds: introduced, ended; and what they signed, brought here."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.ledger import keys
from gradebook.ledger.statements import Statement, read_statement
from gradebook.records.act import Act
from gradebook.records.commands import keyring
from gradebook.records.faults import (
    ConflictError,
    InvalidError,
    PhoneError,
    Problem,
    UnknownError,
)
from gradebook.records.pen import Brought, Signed
from gradebook.records.permissions import Action, Relation
from gradebook.records.store import gate, ledger
from gradebook.records.tables.ledger import SigningKey
from syllabus.saying import say

LONGEST_NAME = 60
NONCE = "windtee phone"
YEARS = range(1970, 3000)
"""What a phone's clock may say; any other moment could not be shown in every zone."""


@dataclass(frozen=True, slots=True)
class EnrolPhone:
    """A phone's name, its key's public half (hex), and the proof that it holds the other.

    The proof is the key's plain signature (hex) over `proof_text`; `nonce` is the session's.
    """

    name: str
    public: str
    proof: str
    nonce: str


@dataclass(frozen=True, slots=True)
class Seal:
    """A statement's text as a phone signed it, the signature (hex), and the key's name."""

    text: str
    sig: str
    kid: str


def nonce_of(cookie: str) -> str:
    """What a new key has to sign in this session, and in no other."""
    return keys.derive_from_cookie(cookie, NONCE).hex()


def proof_text(person_id: str, nonce: str) -> bytes:
    """What a phone's key signs to show that the phone holds it."""
    return f"windtee phone {person_id} {nonce}".encode()


def enrol(act: Act, command: EnrolPhone) -> SigningKey:
    """Let a phone of the actor's sign for them; InvalidError for a name or key that cannot be.

    The caller has had the actor's secret and factors shown.
    """
    gate.authorise(act.actor, Action.PHONE_ADD, frozenset({Relation.SELF}), Action.ACCOUNT_KEEP)
    public = _checked(act, command)
    row = SigningKey(
        id=keys.kid(public),
        person_id=act.actor.person_id,
        public=public.hex(),
        salt=b"",
        cost="",
        wrapped=b"",
        device=command.name.strip(),
        enrolled_at=act.at,
    )
    if act.session.get(SigningKey, row.id) is not None:
        raise ConflictError(say("This key is known already. Let the phone make a new one."))
    keyring.introduce(act, row)
    act.note(Action.PHONE_ADD, row.id, None, phone=row.device)
    return row


def _checked(act: Act, command: EnrolPhone) -> bytes:
    """The public half, if everything holds."""
    name = command.name.strip()
    if not name or len(name) > LONGEST_NAME:
        words = say(
            "Give the phone a name of at most {longest_name} characters.",
            longest_name=LONGEST_NAME,
        )
        raise InvalidError(Problem("name", words))
    try:
        public, proof = bytes.fromhex(command.public), bytes.fromhex(command.proof)
    except ValueError as fault:
        raise InvalidError(Problem("public", say("The phone's key cannot be read."))) from fault
    text = proof_text(act.actor.person_id, command.nonce)
    if not keys.verify(public, text, proof):
        words = say("The phone did not show that it holds this key. Set it up anew.")
        raise InvalidError(Problem("proof", words))
    return public


def phones_of(session: Session, person_id: str) -> list[SigningKey]:
    """Every phone this person ever let sign, the newest first."""
    query = select(SigningKey).where(
        SigningKey.person_id == person_id, SigningKey.device.is_not(None)
    )
    return list(session.scalars(query.order_by(SigningKey.enrolled_at.desc(), SigningKey.id)))


def in_force(session: Session, person_id: str) -> list[str]:
    """The keys of this person's phones that may sign now."""
    return [row.id for row in phones_of(session, person_id) if row.revoked_at is None]


def revoke(act: Act, kid: str) -> SigningKey:
    """End a phone of the actor's own; what it signed and delivered before stays good.

    UnknownError for anybody else's, ConflictError for one that has been ended.
    """
    row = act.session.get(SigningKey, kid)
    if row is None or row.person_id != act.actor.person_id or row.device is None:
        raise UnknownError
    if row.revoked_at is not None:
        raise ConflictError(say("This phone was ended before."))
    keyring.end(act, row, "its owner ended the phone")
    act.note(Action.ACCOUNT_KEEP, act.actor.person_id, None, ended_phone=row.device, kid=kid)
    return row


def revoke_all(act: Act, person_id: str, why: str) -> None:
    """End every phone of a person."""
    for row in phones_of(act.session, person_id):
        if row.revoked_at is None:
            keyring.end(act, row, why)


def brought(session: Session, person_id: str, seal: Seal) -> Brought:
    """What this person signed on a phone, ready to be entered.

    PhoneError for a phone that is not theirs or was ended; InvalidError for a text that is no
    statement, a wrong signature, or a statement that has been entered before.
    """
    row = session.get(SigningKey, seal.kid)
    if row is None or row.person_id != person_id or row.device is None:
        words = say("This phone is not set up to sign for you. Set it up, then sign again.")
        raise PhoneError("phone-unknown", words)
    if row.revoked_at is not None:
        words = say(
            "{device} was ended and cannot sign any more. Your words are kept there.",
            device=row.device,
        )
        raise PhoneError("phone-revoked", words)
    text, statement = seal.text.encode(), _read(seal.text)
    if not keys.verify_statement(bytes.fromhex(row.public), text, _signature(seal.sig)):
        raise InvalidError(Problem("signed", say("The signature is not right.")))
    if ledger.knows(session, statement.id):
        raise InvalidError(
            Problem("signed", say("This statement stands in the ledger already."))
        )
    return Brought(Signed(statement, text, row.id, seal.sig))


def _read(text: str) -> Statement:
    try:
        statement = read_statement(text)
        year = datetime.fromisoformat(statement.claimed_at).year
    except ValueError as fault:  # MalformedError is one; so is a 30th of February
        words = say("What was signed cannot be read: {fault}.", fault=fault)
        raise InvalidError(Problem("signed", words)) from fault
    if year not in YEARS:
        words = say("The phone's clock cannot be right. Set it, then sign again.")
        raise InvalidError(Problem("signed", words))
    return statement


def _signature(sig: str) -> bytes:
    try:
        return bytes.fromhex(sig)
    except ValueError:
        return b""
