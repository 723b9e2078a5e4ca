"""Who puts a name to a statement: the school itself, and the person whose key is open."""

import json
from dataclasses import dataclass
from typing import Any, Protocol

from gradebook.ledger import keys, notes
from gradebook.ledger.canonical import canonical
from gradebook.ledger.statements import DEVICE, Statement
from gradebook.records import kinds
from gradebook.records.faults import ChangedError, Problem
from syllabus.saying import say

WITNESSED = "school"
"""Assurance of a statement that the school's key signs for what its server saw."""
ADOPTED = "adopted"
"""Assurance of a statement about what is older than the ledger."""


@dataclass(frozen=True, slots=True)
class Signed:
    """A statement with its canonical text, the key it is signed by and the signature (hex)."""

    statement: Statement
    text: bytes
    kid: str
    sig: str


class Hand(Protocol):
    """Whoever can put a name to a statement."""

    @property
    def kid(self) -> str:
        """The name of the key."""

    @property
    def assurance(self) -> str:
        """How sure it is that the key's owner is there."""

    def sign(self, statement: Statement) -> Signed:
        """The statement, signed."""


@dataclass(frozen=True, slots=True)
class Signer:
    """An Ed25519 key that is open, and how sure it is that its owner is there.

    `assurance` is `secret` or `secret+code` (typed for this very act), `session` (opened at
    sign-in), `school` (the server's word) or `adopted` (older than the ledger).
    """

    kid: str
    seed: bytes
    assurance: str

    def sign(self, statement: Statement) -> Signed:
        """The statement, signed now."""
        text = statement.text()
        return Signed(statement, text, self.kid, keys.sign_statement(self.seed, text).hex())


@dataclass(frozen=True, slots=True)
class Brought:
    """A statement that its author signed on a phone, in the place of a key.

    Whoever makes it has checked the signature and whose key it is.
    """

    signed: Signed
    assurance: str = DEVICE

    @property
    def kid(self) -> str:
        """The name of the phone's key."""
        return self.signed.kid

    def sign(self, statement: Statement) -> Signed:
        """The statement as it was brought; ChangedError unless it says what this one does.

        Its id, moment and random value are its own.
        """
        mine = self.signed.statement
        if _said(mine) != _said(statement):
            raise ChangedError(*differences(mine, statement))
        return self.signed


def _said(statement: Statement) -> bytes:
    """What a statement says, without what is new in each: id, moment, random value."""
    return canonical(
        {
            "type": statement.type,
            "actor": statement.actor,
            "assurance": statement.assurance,
            "tz": statement.tz,
            "subject": statement.subject,
            "body": statement.body,
        }
    )


def differences(signed: Statement, now: Statement) -> list[Problem]:
    """What was signed and what would be signed now, in words, a problem a line."""
    one, other = (dict(kinds.lines(_in_order(said.body))) for said in (signed, now))
    found = [
        Problem(
            name,
            say(
                "{part}: signed {was}, now {now}.",
                part=name.capitalize(),
                was=was or say("nothing"),
                now=is_ or say("nothing"),
            ),
        )
        for name in dict.fromkeys((*one, *other))
        if (was := one.get(name, "")) != (is_ := other.get(name, ""))
    ]
    return found or [Problem("", say("What was signed is not what this card would say now."))]


def _in_order(body: dict[str, Any]) -> dict[str, Any]:
    """The same body, its names in the order in which they are signed."""
    found: dict[str, Any] = json.loads(canonical(body))
    return found


@dataclass(frozen=True, slots=True)
class Pen:
    """The school's key, the actor's own where it is open, and what the actor brought signed."""

    house: Signer
    own: Signer | None = None
    brought: Brought | None = None

    @property
    def hand(self) -> Hand:
        """Who signs: the person where possible, else the school."""
        return self.brought or self.own or self.house


def house_of(seed: bytes) -> Signer:
    """The school's own signer."""
    return Signer(keys.kid(keys.public_of(seed)), seed, WITNESSED)


def vkey_of(seed: bytes, origin: str) -> str:
    """The school's verifier key, by which anybody can check its checkpoints."""
    return notes.verifier_key(origin, keys.public_of(seed))
