"""Reading a whole ledger from its first entry on, and saying where it does not hold."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from gradebook.ledger import keys, tree
from gradebook.ledger.canonical import MalformedError
from gradebook.ledger.erasures import Erasures
from gradebook.ledger.gleaning import Gleaned, Gleaning, Stored, is_signed, one_by_one
from gradebook.ledger.statements import DEVICE, Entry, Statement
from gradebook.ledger.succession import (
    COMPROMISED,
    ROTATE,
    Succession,
    UnfitError,
    public_in,
)

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
    """The school's first public key."""
    good: Mapping[str, int] = field(default_factory=dict)
    """The last good size of each key that is called compromised further on."""
    edge: Edge = field(default_factory=Edge)
    leaf: str | None = None
    claimed: str | None = None
    """The last leaf as its row gives it: another than `leaf` where the entry was altered."""
    keys: dict[str, Key] = field(default_factory=dict)
    line: Succession = field(default_factory=Succession)
    """The school's keys met so far."""
    erasures: Erasures = field(default_factory=Erasures)

    def __post_init__(self) -> None:
        self.line.begin(self.school)
        self.keys[keys.kid(self.school)] = Key(self.school, 0)

    def read(self, rows: Iterable[Stored], gleaning: Gleaning = one_by_one) -> Iterator[Read]:
        """Each row with its two texts as read (None: not), and what does not hold there."""
        for row, seen in gleaning(rows, self._publics):
            entry, statement = seen.entry, seen.statement
            if entry is None:
                self._grow(tree.leaf_hash(row.entry.encode()))
                words = f"Entry {row.seq}: {seen.fault}."
                yield row, None, [Finding(ALTERED, row.seq, words)]
            elif statement is None:
                yield row, None, list(self._blank(row, entry))
            else:
                yield row, (entry, statement), self._judge(row, seen, entry, statement)

    def _judge(
        self, row: Stored, seen: Gleaned, entry: Entry, statement: Statement
    ) -> list[Finding]:
        found = [*self._place(row, entry), *self._taken_over(entry, statement)]
        found += self._content(row, seen, entry, statement)
        found += self._nodes(row)
        self._introduce(entry, statement)
        found += [] if found else self._erasing(entry, statement)
        return found

    def _publics(self) -> dict[str, bytes]:
        return {name: key.public for name, key in self.keys.items()}

    @property
    def size(self) -> int:
        """How many entries have been read."""
        return self.edge.size

    def root(self) -> bytes:
        """The root over everything read so far."""
        return self.edge.root()

    def _blank(self, row: Stored, entry: Entry) -> Iterator[Finding]:
        """An entry whose text is gone: its place and hashes hold all the same."""
        self.erasures.blank[row.seq] = entry.stmt_sha256
        yield from self._place(row, entry)
        yield from self._nodes(row)

    def _erasing(self, entry: Entry, statement: Statement) -> Iterator[Finding]:
        by_school = self._is_school(entry)
        for seq, words in self.erasures.take(entry, statement, by_school=by_school):
            yield Finding(ALTERED, seq, words)

    def _grow(self, leaf: bytes) -> bytes:
        self.leaf = leaf.hex()
        return self.edge.grow(leaf)

    def _place(self, row: Stored, entry: Entry) -> Iterator[Finding]:
        if row.seq != self.size + 1 or entry.seq != row.seq:
            words = f"Entry {self.size + 1} is missing: the next one is {row.seq}."
            yield Finding(CUT, row.seq, words)
        elif entry.prev not in (self.leaf, self.claimed):
            yield Finding(CUT, row.seq, f"Entry {row.seq} does not follow the one before it.")

    def _content(
        self, row: Stored, seen: Gleaned, entry: Entry, statement: Statement
    ) -> Iterator[Finding]:
        if seen.digest != entry.stmt_sha256:
            words = f"Entry {row.seq}: its statement is not the one that was signed."
            yield Finding(ALTERED, row.seq, words)
            return
        key = self.keys.get(entry.kid)
        if key is None:
            yield Finding(UNKNOWN_KEY, row.seq, f"Entry {row.seq}: signed by an unknown key.")
        elif words := _misused(key, entry, statement, self.good.get(entry.kid)):
            yield Finding(UNKNOWN_KEY, row.seq, f"Entry {row.seq}: {words}.")
        elif seen.fits != key.public and not is_signed(
            entry, row.statement.encode(), key.public
        ):
            yield Finding(ALTERED, row.seq, f"Entry {row.seq}: the signature is wrong.")
        elif statement.type.startswith(("key.", "school.")) and not self._is_school(entry):
            words = f"Entry {row.seq}: only the school's key may say {statement.type}."
            yield Finding(UNKNOWN_KEY, row.seq, words)
        elif statement.type == "key.enrol" and not self._is_new(statement):
            words = f"Entry {row.seq}: it introduces a key that is weak, misnamed or known."
            yield Finding(UNKNOWN_KEY, row.seq, words)
        elif statement.type == ROTATE:
            yield from self._succeed(entry, statement)

    def _is_new(self, statement: Statement) -> bool:
        """Whether it introduces a key that can be read and that nobody has had before."""
        public = public_in(statement.body)
        return public is not None and keys.kid(public) not in self.keys

    def _is_school(self, entry: Entry) -> bool:
        """Whether the school's key in force signed it, and is believed this far."""
        current = self.line.keys[-1].kid
        return entry.kid == current and entry.seq <= self.good.get(current, entry.seq)

    def _taken_over(self, entry: Entry, statement: Statement) -> Iterator[Finding]:
        """Let a new key take over from one that was compromised: it signs that itself."""
        if statement.type == COMPROMISED:
            yield from self._succeed(entry, statement)

    def _succeed(self, entry: Entry, statement: Statement) -> Iterator[Finding]:
        if not self._is_new(statement):
            words = f"Entry {entry.seq}: it changes to a key that is weak, misnamed or known."
            yield Finding(UNKNOWN_KEY, entry.seq, words)
            return
        try:
            new = self.line.take(entry, statement)
        except (MalformedError, UnfitError) as fault:
            yield Finding(UNKNOWN_KEY, entry.seq, f"Entry {entry.seq}: {fault}.")
            return
        old = self.line.keys[-2].kid
        self.keys[old] = replace(self.keys[old], until=entry.seq)
        self.keys[new.kid] = Key(new.public, new.since)

    def _nodes(self, row: Stored) -> Iterator[Finding]:
        leaf = tree.leaf_hash(row.entry.encode())  # it was read: this is its canonical text
        nodes, self.claimed = self._grow(leaf), row.leaf
        if row.leaf != leaf.hex() or row.nodes != nodes:
            yield Finding(
                ALTERED, row.seq, f"Entry {row.seq}: its hashes in the tree are wrong."
            )

    def _introduce(self, entry: Entry, statement: Statement) -> None:
        """Learn of a key that the school introduces, or of its end."""
        if not self._is_school(entry):
            return
        if statement.type == "key.enrol":
            public = public_in(statement.body)
            if public is not None:
                holder, device = str(statement.body.get("holder")), "device" in statement.body
                self.keys[keys.kid(public)] = Key(public, entry.seq, holder, device)
        elif statement.type == "key.revoke":
            name = str(statement.body.get("kid"))
            if name in self.keys:
                self.keys[name] = replace(self.keys[name], until=entry.seq)


def _misused(key: Key, entry: Entry, statement: Statement, good: int | None) -> str:
    """Why this key may not sign this statement here; empty when it may.

    `good` is the last entry that a compromised key is believed.
    """
    if good is not None and entry.seq > good:
        return "signed by a key that was compromised"
    if key.until is not None and entry.seq > key.until:
        return "signed by a revoked key"
    if key.holder not in ("", statement.actor):
        return "signed by someone else's key"
    if key.device != (statement.assurance == DEVICE):
        return "signed on a phone, or not on one, against its own words"
    return ""


def worst(findings: Iterable[Finding]) -> int:
    """The exit code that says most; 0 for no finding."""
    codes = {finding.code for finding in findings}
    return next((code for code in GRAVEST if code in codes), 0)
