"""Statements, which people sign, and entries, which put them in order for good."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from gradebook.ledger.canonical import MalformedError, canonical, is_canonical, parse, plain
from gradebook.ledger.fields import (
    MOMENT,
    SOME,
    UUID,
    Check,
    fitting,
    hexadecimal,
    is_object,
    or_none,
    text_like,
    whole,
)
from gradebook.ledger.tree import leaf_hash

VERSION = 1
ALGORITHM = "ed25519"
DEVICE = "device"
"""Assurance of a statement signed on a phone: with a key that was introduced as a phone's."""
_STATEMENT: Mapping[str, Check] = {
    "v": whole(VERSION, VERSION),
    "id": UUID,
    "type": text_like(r"[a-z]+(\.[a-z]+)+"),
    "actor": SOME,
    "assurance": SOME,
    "claimed_at": MOMENT,
    "tz": SOME,
    "nonce": hexadecimal(32),
    "subject": or_none(SOME),
    "body": is_object,
}
_ENTRY: Mapping[str, Check] = {
    "v": whole(VERSION, VERSION),
    "seq": whole(1),
    "prev": or_none(hexadecimal(64)),
    "recorded_at": MOMENT,
    "stmt_sha256": hexadecimal(64),
    "alg": text_like(ALGORITHM),
    "kid": hexadecimal(32),
    "sig": hexadecimal(128),
}


@dataclass(frozen=True, slots=True)
class Statement:
    """What one person says and signs. `claimed_at` is their clock, UTC, ending in Z."""

    id: str
    type: str
    actor: str
    assurance: str
    claimed_at: str
    tz: str
    nonce: str
    subject: str | None
    body: dict[str, Any] = field(hash=False)
    v: int = VERSION

    def text(self) -> bytes:
        """The canonical text, which is what gets signed; MalformedError for a wrong field."""
        fields = {name: getattr(self, name) for name in _STATEMENT}
        fitting(fields, _STATEMENT, "a version 1 statement")
        return canonical(fields)


@dataclass(frozen=True, slots=True)
class Entry:
    """A statement's place in the ledger: number, entry before it, hash and signature."""

    seq: int
    prev: str | None
    recorded_at: str
    stmt_sha256: str
    kid: str
    sig: str
    alg: str = ALGORITHM
    v: int = VERSION

    def text(self) -> bytes:
        """The canonical text, the data of the leaf; MalformedError for a wrong field."""
        fields = {name: getattr(self, name) for name in _ENTRY}
        fitting(fields, _ENTRY, "a version 1 entry")
        _check_first(self)
        return canonical(fields)

    def leaf(self) -> bytes:
        """The hash of this entry as a leaf of the tree."""
        return leaf_hash(self.text())


def read_statement(text: str | bytes) -> Statement:
    """Read a canonical text; MalformedError if it is not one or a field is wrong."""
    return Statement(**_read(text, _STATEMENT, "a version 1 statement"))


def read_entry(text: str | bytes) -> Entry:
    """Read a canonical text; MalformedError if it is not one or a field is wrong."""
    entry = Entry(**_read(text, _ENTRY, "a version 1 entry"))
    _check_first(entry)
    return entry


def _read(text: str | bytes, checks: Mapping[str, Check], what: str) -> dict[str, Any]:
    value = plain(text)
    if value is not None:
        return fitting(value, checks, what)
    fields = fitting(parse(text), checks, what)
    if not is_canonical(fields, text):
        raise MalformedError(f"{what} is not written in its canonical form")
    return fields


def _check_first(entry: Entry) -> None:
    if (entry.seq == 1) != (entry.prev is None):
        raise MalformedError("entry: the first one, and no other, has none before it")
