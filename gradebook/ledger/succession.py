"""The school's keys, one after another: which may sign at which place, as the ledger says.

A change is a statement of its own. `key.rotate` is signed by the key in force and names the
next one; `key.compromised` is signed by the next one and names the last good size: what the
old key signed beyond it counts as signed by nobody. Both carry `proof`, the new key's word
that it follows the old one at this very place. Places in the ledger decide, never dates.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from gradebook.ledger import keys, notes
from gradebook.ledger.canonical import MalformedError
from gradebook.ledger.fields import SOME, Check, hexadecimal, whole
from gradebook.ledger.notes import Checkpoint
from gradebook.ledger.statements import Entry, Statement

OPEN, ROTATE, COMPROMISED = "school.open", "key.rotate", "key.compromised"
CHANGES = (ROTATE, COMPROMISED)
KEY: Mapping[str, Check] = {
    "kid": hexadecimal(32),
    "public": hexadecimal(64),
    "holder": SOME,
    "name": SOME,
}
"""How a statement introduces a key."""
_CHANGE: Mapping[str, Check] = {**KEY, "follows": hexadecimal(32), "proof": hexadecimal(128)}
_GOOD_SIZE = whole(0)


class UnfitError(ValueError):
    """A change of keys that the keys before it do not allow; the message says why."""


class DisownedError(notes.NoteError):
    """A checkpoint signed by a key of the school that was not in force over so many entries."""


@dataclass(frozen=True, slots=True)
class SchoolKey:
    """A key of the school: the first and the last entry it may sign, and what ended it.

    `until` is None for the key in force; `ended` is the entry that ended it.
    """

    kid: str
    public: bytes
    since: int
    until: int | None = None
    ended: int | None = None
    compromised: bool = False

    def covers(self, size: int) -> bool:
        """Whether it may sign a checkpoint over so many entries; at a change both keys may."""
        return self.since - 1 <= size and (self.until is None or size <= self.until)


@dataclass(slots=True)
class Succession:
    """The keys from the opening on; the last one is in force. `origin` names the ledger."""

    keys: list[SchoolKey] = field(default_factory=list)
    origin: str = ""

    @property
    def current(self) -> SchoolKey | None:
        """The key in force; None before the opening."""
        return self.keys[-1] if self.keys else None

    def begin(self, public: bytes) -> None:
        """The first key."""
        self.keys.append(SchoolKey(keys.kid(public), public, 1))

    def take(self, entry: Entry, statement: Statement) -> SchoolKey:
        """Let a change of keys happen: the new key. Its entry's signature is the caller's care.

        MalformedError for fields that cannot be so, UnfitError for a change that may not be.
        """
        body, compromised = statement.body, statement.type == COMPROMISED
        checks = {**_CHANGE, **({"good_size": _GOOD_SIZE} if compromised else {})}
        if not all(name in body and check(body[name]) for name, check in checks.items()):
            raise MalformedError(f"entry {entry.seq} changes to no key that can be read")
        public = bytes.fromhex(body["public"])
        old = self._old(entry, body["follows"], body["kid"] if compromised else body["follows"])
        if keys.kid(public) != body["kid"] or body["kid"] in {one.kid for one in self.keys}:
            raise UnfitError("the new key is not named rightly, or not new")
        proof = bytes.fromhex(body["proof"])
        if not keys.verify_succession(public, old.kid, body["kid"], entry.prev or "", proof):
            raise UnfitError("the new key does not say that it follows here")
        until = body["good_size"] if compromised else entry.seq
        if not old.since - 1 <= until <= entry.seq:
            raise UnfitError("the good size is none that the old key could have signed")
        self.keys[-1] = replace(old, until=until, ended=entry.seq, compromised=compromised)
        new = SchoolKey(body["kid"], public, entry.seq + (not compromised))
        self.keys.append(new)
        return new

    def _old(self, entry: Entry, follows: str, signer: str) -> SchoolKey:
        old = self.current
        if old is None or old.kid != follows or entry.kid != signer:
            raise UnfitError("it is not the key in force that gives way")
        return old

    def publics_at(self, seq: int) -> list[bytes]:
        """The keys that may sign entry `seq`."""
        found = (one for one in self.keys if one.since <= seq)
        return [one.public for one in found if one.until is None or seq <= one.until]

    def covers(self, public: bytes, size: int) -> bool:
        """Whether this was a key of the school where its ledger had so many entries."""
        return any(one.public == public and one.covers(size) for one in self.keys)

    @property
    def followed(self) -> list[SchoolKey]:
        """The keys from which one can get to the present one: none that was compromised."""
        broken = [at for at, one in enumerate(self.keys) if one.compromised]
        return self.keys[broken[-1] + 1 if broken else 0 :]

    def line_of(self, key: SchoolKey) -> str:
        """A key as a verifier's line."""
        return notes.verifier_key(self.origin, key.public)

    def fingerprint_of(self, key: SchoolKey) -> str:
        """A key as people compare it."""
        return notes.fingerprint(self.line_of(key))

    def open(self, note: str) -> Checkpoint:
        """The checkpoint in a note that a key of the school signed while it was in force.

        NoteError when none did; DisownedError when one did, but not in force over that size.
        """
        disowned = False
        for key in reversed(self.keys):
            try:
                checkpoint = notes.read_checkpoint(notes.open_note(note, self.line_of(key)))
            except notes.NotSignedError:
                continue
            if key.covers(checkpoint.size):
                return checkpoint
            disowned = True
        if disowned:
            raise DisownedError(
                "it is signed by a key of the school that was not in force then"
            )
        raise notes.NotSignedError("the note is not signed by a key of this school")


def public_in(body: Mapping[str, Any]) -> bytes | None:
    """The public key a statement introduces, if it can be read and is named rightly."""
    try:
        public = bytes.fromhex(str(body.get("public")))
    except ValueError:
        return None
    named = keys.kid(public) == body.get("kid") and not keys.is_weak(public)
    return public if named else None


def limits(statements: Iterable[Statement]) -> dict[str, int]:
    """The last good size of each key that one of the statements calls compromised.

    It is asked before anything else is judged, for it concerns entries before the statement.
    """
    found: dict[str, int] = {}
    for one in statements:
        kid, size = one.body.get("follows"), one.body.get("good_size")
        if one.type != COMPROMISED or not isinstance(kid, str):
            continue
        if isinstance(size, int) and _GOOD_SIZE(size):
            found[kid] = min(size, found.get(kid, size))
    return found
