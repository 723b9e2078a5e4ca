"""Statements, which people sign, and entries, which put them in order for good."""

import re
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from gradebook.ledger.canonical import LARGEST, MalformedError, canonical, parse
from gradebook.ledger.tree import leaf_hash

VERSION = 1
ALGORITHM = "ed25519"
_Check = Callable[[Any], bool]


def _text(pattern: str) -> _Check:
    shape = re.compile(pattern, re.ASCII | re.DOTALL)
    return lambda value: isinstance(value, str) and shape.fullmatch(value) is not None


def _or_none(check: _Check) -> _Check:
    return lambda value: value is None or check(value)


def _hexadecimal(digits: int) -> _Check:
    return _text(f"[0-9a-f]{{{digits}}}")


def _is_version(value: object) -> bool:
    return type(value) is int and value == VERSION


_SOME = _text(".{1,200}")
_MOMENT = _text(
    r"\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])"
    r"T([01]\d|2[0-3]):[0-5]\d:[0-5]\d(\.\d{1,6})?Z"
)
_STATEMENT: Mapping[str, _Check] = {
    "v": _is_version,
    "id": _text("[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}"),
    "type": _text(r"[a-z]+(\.[a-z]+)+"),
    "actor": _SOME,
    "assurance": _SOME,
    "claimed_at": _MOMENT,
    "tz": _SOME,
    "nonce": _hexadecimal(32),
    "subject": _or_none(_SOME),
    "body": lambda value: isinstance(value, dict),
}
_ENTRY: Mapping[str, _Check] = {
    "v": _is_version,
    "seq": lambda value: type(value) is int and 1 <= value <= LARGEST,
    "prev": _or_none(_hexadecimal(64)),
    "recorded_at": _MOMENT,
    "stmt_sha256": _hexadecimal(64),
    "alg": _text(ALGORITHM),
    "kid": _hexadecimal(32),
    "sig": _hexadecimal(128),
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
        fields = asdict(self)
        _fits(fields, _STATEMENT, "statement")
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
        fields = asdict(self)
        _fits(fields, _ENTRY, "entry")
        _check_first(self)
        return canonical(fields)

    def leaf(self) -> bytes:
        """The hash of this entry as a leaf of the tree."""
        return leaf_hash(self.text())


def read_statement(text: str | bytes) -> Statement:
    """Read a canonical text; MalformedError if it is not one or a field is wrong."""
    return Statement(**_read(text, _STATEMENT, "statement"))


def read_entry(text: str | bytes) -> Entry:
    """Read a canonical text; MalformedError if it is not one or a field is wrong."""
    entry = Entry(**_read(text, _ENTRY, "entry"))
    _check_first(entry)
    return entry


def _read(text: str | bytes, checks: Mapping[str, _Check], what: str) -> dict[str, Any]:
    fields = parse(text)
    _fits(fields, checks, what)
    if canonical(fields) != (text.encode() if isinstance(text, str) else text):
        raise MalformedError(f"the {what} is not written in its canonical form")
    return dict(fields)


def _fits(fields: object, checks: Mapping[str, _Check], what: str) -> None:
    if not isinstance(fields, dict) or fields.keys() != checks.keys():
        raise MalformedError(f"not the fields of a version 1 {what}")
    wrong = [name for name, check in checks.items() if not check(fields[name])]
    if wrong:
        raise MalformedError(f"{what}: {', '.join(wrong)} cannot be so")


def _check_first(entry: Entry) -> None:
    if (entry.seq == 1) != (entry.prev is None):
        raise MalformedError("entry: the first one, and no other, has none before it")
