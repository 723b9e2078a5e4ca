"""Reading a whole ledger from its first entry on, and saying where it does not hold."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from gradebook.ledger import keys, tree
from gradebook.ledger.canonical import MalformedError, sha256_hex
from gradebook.ledger.statements import DEVICE, Entry, Statement, read_entry, read_statement

ALTERED, CUT, UNKNOWN_KEY, MALFORMED, SUPERSEDED = 2, 3, 4, 5, 6
"""Exit codes of `windtee verify`; 0 is good."""
GRAVEST = (CUT, UNKNOWN_KEY, ALTERED, SUPERSEDED, MALFORMED)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that does not hold: its code, the place it concerns, in words."""

    code: int
    seq: int | None
    words: str


@dataclass(frozen=True, slots=True)
class Stored:
    """One row as stored: its place, the two texts, the leaf and the tree's nodes."""

    seq: int
    entry: str
    statement: str
    leaf: str
    nodes: bytes


@dataclass(frozen=True, slots=True)
class Key:
    """A public key, from where in the ledger it may sign, for whom, and until where.

    `holder` is empty for the school's own key, which attests what anybody did.
    """

    public: bytes
    since: int
    holder: str = ""
    device: bool = False
    until: int | None = None


@dataclass(slots=True)
class Edge:
    """The right edge of a growing tree: its size and the peaks it still needs."""

    size: int = 0
    peaks: dict[tuple[int, int], bytes] = field(default_factory=dict)

    def grow(self, leaf: bytes) -> bytes:
        """Take one more leaf in; the hashes it completed, joined."""
        added = tree.append(self.size, leaf, self._node)
        self.size += 1
        for level, node in enumerate(added):
            self.peaks[self.size, level] = node
        self.peaks = {place: self.peaks[place] for place in tree.wanted_rows(self.size)}
        return b"".join(added)

    def root(self) -> bytes:
        """The root over everything taken in so far."""
        return tree.root_at(self.size, self._node)

    def _node(self, row: int, level: int) -> bytes:
        return self.peaks[row, level]


Signed = tuple[Entry, Statement]
Read = tuple[Stored, Signed | None, list[Finding]]


@dataclass(slots=True)
class Chain:
    """The state of reading: how far, the keys introduced so far, the tree's right edge."""

    school: bytes
    """The public key the reader trusts."""
    edge: Edge = field(default_factory=Edge)
    leaf: str | None = None
    claimed: str | None = None
    """The last leaf as its row gives it: another than `leaf` where the entry was altered."""
    keys: dict[str, Key] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.keys[keys.kid(self.school)] = Key(self.school, 0)

    def read(self, rows: Iterable[Stored]) -> Iterator[Read]:
        """Each row with its two texts as read (None: not), and what does not hold there."""
        for row in rows:
            try:
                entry, statement = read_entry(row.entry), read_statement(row.statement)
            except MalformedError as fault:
                self._grow(tree.leaf_hash(row.entry.encode()))
                yield row, None, [Finding(ALTERED, row.seq, f"Entry {row.seq}: {fault}.")]
                continue
            found = [*self._place(row, entry), *self._content(row, entry, statement)]
            found += self._nodes(row)
            self._introduce(entry, statement)
            yield row, (entry, statement), found

    @property
    def size(self) -> int:
        """How many entries have been read."""
        return self.edge.size

    def root(self) -> bytes:
        """The root over everything read so far."""
        return self.edge.root()

    def _grow(self, leaf: bytes) -> bytes:
        self.leaf = leaf.hex()
        return self.edge.grow(leaf)

    def _place(self, row: Stored, entry: Entry) -> Iterator[Finding]:
        if row.seq != self.size + 1 or entry.seq != row.seq:
            words = f"Entry {self.size + 1} is missing: the next one is {row.seq}."
            yield Finding(CUT, row.seq, words)
        elif entry.prev not in (self.leaf, self.claimed):
            yield Finding(CUT, row.seq, f"Entry {row.seq} does not follow the one before it.")

    def _content(self, row: Stored, entry: Entry, statement: Statement) -> Iterator[Finding]:
        text = row.statement.encode()
        if sha256_hex(text) != entry.stmt_sha256:
            words = f"Entry {row.seq}: its statement is not the one that was signed."
            yield Finding(ALTERED, row.seq, words)
            return
        key = self.keys.get(entry.kid)
        if key is None:
            yield Finding(UNKNOWN_KEY, row.seq, f"Entry {row.seq}: signed by an unknown key.")
        elif words := _misused(key, entry, statement):
            yield Finding(UNKNOWN_KEY, row.seq, f"Entry {row.seq}: {words}.")
        elif not keys.verify_statement(key.public, text, bytes.fromhex(entry.sig)):
            yield Finding(ALTERED, row.seq, f"Entry {row.seq}: the signature is wrong.")
        elif statement.type.startswith(("key.", "school.")) and key.public != self.school:
            words = f"Entry {row.seq}: only the school's key may say {statement.type}."
            yield Finding(UNKNOWN_KEY, row.seq, words)

    def _nodes(self, row: Stored) -> Iterator[Finding]:
        leaf = tree.leaf_hash(row.entry.encode())  # it was read: this is its canonical text
        nodes, self.claimed = self._grow(leaf), row.leaf
        if row.leaf != leaf.hex() or row.nodes != nodes:
            yield Finding(
                ALTERED, row.seq, f"Entry {row.seq}: its hashes in the tree are wrong."
            )

    def _introduce(self, entry: Entry, statement: Statement) -> None:
        """Learn of a key that the school introduces, or of its end."""
        if entry.kid != keys.kid(self.school):
            return
        if statement.type == "key.enrol":
            public = _public_in(statement.body)
            if public is not None:
                holder, device = str(statement.body.get("holder")), "device" in statement.body
                self.keys[keys.kid(public)] = Key(public, entry.seq, holder, device)
        elif statement.type == "key.revoke":
            name = str(statement.body.get("kid"))
            if name in self.keys:
                self.keys[name] = replace(self.keys[name], until=entry.seq)


def _misused(key: Key, entry: Entry, statement: Statement) -> str:
    """Why this key may not sign this statement here; empty when it may."""
    if key.until is not None and entry.seq > key.until:
        return "signed by a revoked key"
    if key.holder not in ("", statement.actor):
        return "signed by someone else's key"
    if key.device != (statement.assurance == DEVICE):
        return "signed on a phone, or not on one, against its own words"
    return ""


def _public_in(body: Mapping[str, Any]) -> bytes | None:
    """The public key a statement introduces, if it names it rightly."""
    try:
        public = bytes.fromhex(str(body.get("public")))
    except ValueError:
        return None
    return public if keys.kid(public) == body.get("kid") else None


def worst(findings: Iterable[Finding]) -> int:
    """The exit code that says most; 0 for no finding."""
    codes = {finding.code for finding in findings}
    return next((code for code in GRAVEST if code in codes), 0)
