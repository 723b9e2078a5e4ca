"""The keys a portable record introduces: who may sign an entry, and what changes the keys."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from gradebook.ledger import keys
from gradebook.ledger.bundle_file import Item
from gradebook.ledger.canonical import MalformedError
from gradebook.ledger.statements import DEVICE, Statement
from gradebook.ledger.succession import (
    COMPROMISED,
    KEY,
    OPEN,
    ROTATE,
    Succession,
    UnfitError,
)

GOOD, ALTERED, BROKEN, UNKNOWN_KEY, MALFORMED, SUPERSEDED = 0, 2, 3, 4, 5, 6
ENROL, REVOKE = "key.enrol", "key.revoke"


class BundleError(ValueError):
    """A record that does not hold, with the code of the verdict."""

    def __init__(self, code: int, words: str) -> None:
        super().__init__(words)
        self.code = code


@dataclass(slots=True)
class Ring:
    """The keys introduced so far, by kid in order; which are phones', which are revoked.

    `good` is the last good size of each key called compromised anywhere in the file.
    """

    line: Succession
    good: dict[str, int]
    known: dict[str, dict[str, str]] = field(default_factory=dict)
    phones: set[str] = field(default_factory=set)
    revoked: set[str] = field(default_factory=set)

    @property
    def school(self) -> str:
        """The name of the school's key in force."""
        return self.line.current.kid if self.line.current else ""

    def judge(self, item: Item, statement: Statement) -> None:
        """Whether it is signed by a key in force; what it does to the keys happens."""
        if statement.type in _BEFORE:
            _BEFORE[statement.type](item, statement, self)
        _check_signer(item, statement, self)
        if statement.type in _AFTER:
            _AFTER[statement.type](item, statement, self)


def _open_school(item: Item, statement: Statement, ring: Ring) -> None:
    if ring.line.keys:
        raise BundleError(UNKNOWN_KEY, "the ledger was opened with another key")
    fields = _key_in(item, statement)
    ring.line.begin(bytes.fromhex(fields["public"]))
    _introduce(item, statement, ring)


def _key_in(item: Item, statement: Statement) -> dict[str, str]:
    """The key that a statement names."""
    body = statement.body
    if not all(name in body and check(body[name]) for name, check in KEY.items()):
        words = f"entry {item.entry.seq} introduces no key that can be read"
        raise BundleError(MALFORMED, words)
    return {name: str(body[name]) for name in KEY}


def _succeed(item: Item, statement: Statement, ring: Ring) -> None:
    """Let another key of the school's take over; the one before it ends."""
    seq, old = item.entry.seq, ring.school
    try:
        new = ring.line.take(item.entry, statement)
    except MalformedError as error:
        raise BundleError(MALFORMED, str(error)) from error
    except UnfitError as error:
        raise BundleError(UNKNOWN_KEY, f"entry {seq}: {error}") from error
    if new.kid in ring.known:
        raise BundleError(UNKNOWN_KEY, f"entry {seq} introduces a key it may not")
    ring.known[new.kid] = {name: str(statement.body[name]) for name in KEY}
    ring.revoked.add(old)


def _introduce(item: Item, statement: Statement, ring: Ring) -> None:
    """Take in the key that a statement of the school's introduces."""
    fields, public = _key_in(item, statement), bytes.fromhex(str(statement.body["public"]))
    named = keys.kid(public) == fields["kid"] and not keys.is_weak(public)
    if item.entry.kid != ring.school or not named or fields["kid"] in ring.known:
        words = f"entry {item.entry.seq} introduces a key it may not"
        raise BundleError(UNKNOWN_KEY, words)
    ring.known[fields["kid"]] = fields
    if "device" in statement.body:
        ring.phones.add(fields["kid"])


def _revoke(item: Item, statement: Statement, ring: Ring) -> None:
    kid = statement.body.get("kid")
    if not KEY["kid"](kid):
        raise BundleError(MALFORMED, f"entry {item.entry.seq} revokes no key that can be read")
    ring.revoked.add(str(kid))


def _check_signer(item: Item, statement: Statement, ring: Ring) -> None:
    seq, kid = item.entry.seq, item.entry.kid
    key = ring.known.get(kid)
    if key is None:
        raise BundleError(UNKNOWN_KEY, f"entry {seq} is signed by a key no one introduced")
    if kid in ring.revoked:
        raise BundleError(UNKNOWN_KEY, f"entry {seq} is signed by a key revoked before")
    if seq > ring.good.get(kid, seq):
        raise BundleError(UNKNOWN_KEY, f"entry {seq} is signed by a key that was compromised")
    if kid != ring.school and key["holder"] != statement.actor:
        raise BundleError(UNKNOWN_KEY, f"entry {seq} is signed by someone else's key")
    if (kid in ring.phones) != (statement.assurance == DEVICE):
        raise BundleError(UNKNOWN_KEY, f"entry {seq} and its key differ on who signed it")
    public, signature = bytes.fromhex(key["public"]), bytes.fromhex(item.entry.sig)
    if not keys.verify_statement(public, statement.text(), signature):
        raise BundleError(ALTERED, f"the signature of entry {seq} is wrong")


Act = Callable[[Item, Statement, Ring], None]
_BEFORE: Mapping[str, Act] = {OPEN: _open_school, COMPROMISED: _succeed}
_AFTER: Mapping[str, Act] = {ROTATE: _succeed, ENROL: _introduce, REVOKE: _revoke}
"""What a statement does to the keys: some are signed by the key they introduce."""
