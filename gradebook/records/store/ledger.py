"""The ledger's rows: entering a statement, finding entries, the nodes of the tree."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import Row, func, insert, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from gradebook import clock
from gradebook.ledger import tree
from gradebook.ledger.canonical import sha256_hex
from gradebook.ledger.erasures import ERASE, Erasure, read_erasure
from gradebook.ledger.statements import Entry, Statement, read_entry, read_statement
from gradebook.records.faults import TornError
from gradebook.records.pen import Hand
from gradebook.records.tables.erasures import ErasureNotice
from gradebook.records.tables.ledger import AuditNode, LedgerCheckpoint
from gradebook.records.tables.ledger import LedgerEntry as LedgerEntry
from syllabus.saying import say

HASH = 32
TIP = "ledger tip"
MISSING = say(
    "Rows of the ledger or of the audit trail are missing. Nothing is signed until this is "
    "explained: run windtee verify."
)
SERVER = "server"
"""The actor of statements that no person makes."""


@dataclass(slots=True)
class Nodes:
    """Hashes of complete subtrees, read from stored rows and remembered.

    `column` is the nodes of one of the two logs, `place` its place from 1.
    """

    session: Session
    column: InstrumentedAttribute[bytes]
    place: InstrumentedAttribute[int]
    known: dict[int, bytes] = field(default_factory=dict)

    def __call__(self, row: int, level: int) -> bytes:
        """The hash of the subtree of this level that ends with leaf `row`; TornError: gone."""
        if row not in self.known:
            self.load([row])
        if row not in self.known:
            raise TornError(MISSING)
        return self.known[row][HASH * level : HASH * (level + 1)]

    def load(self, rows: list[int]) -> None:
        """Read these rows in one query, as far as they are there."""
        wanted = [row for row in rows if row not in self.known]
        if wanted:
            query = select(self.place, self.column).where(self.place.in_(wanted))
            self.known.update((row[0], row[1]) for row in self.session.execute(query))

    def path(self, index: int, size: int) -> tuple[list[bytes], bytes]:
        """The hashes from leaf `index` (from 0) up to the root, and the root; one query."""
        wanted = {row for row, _ in tree.wanted_rows(size)}

        def note(row: int, _level: int) -> bytes:
            wanted.add(row)
            return bytes(HASH)

        tree.inclusion(index, size, note)
        self.load(sorted(wanted))
        return tree.inclusion(index, size, self), self.root(size)

    def continues(self, old: int, size: int) -> list[bytes]:
        """The proof that the first `size` leaves begin with the first `old`; one query."""
        wanted: set[int] = set()

        def note(row: int, _level: int) -> bytes:
            wanted.add(row)
            return bytes(HASH)

        tree.consistency(old, size, note)
        self.load(sorted(wanted))
        return tree.consistency(old, size, self)

    def root(self, size: int) -> bytes:
        """The tree's root over the first `size` leaves."""
        self.load([row for row, _ in tree.wanted_rows(size)])
        return tree.root_at(size, self)


def ledger_nodes(session: Session) -> Nodes:
    """The nodes of the ledger's tree."""
    return Nodes(session, LedgerEntry.nodes, LedgerEntry.seq)


def audit_nodes(session: Session) -> Nodes:
    """The nodes of the audit trail's tree."""
    return Nodes(session, AuditNode.nodes, AuditNode.place)


@dataclass(slots=True)
class Tip:
    """The end of a log inside one transaction: how long it is, its last leaf, its peaks."""

    size: int
    leaf: str | None
    nodes: Nodes

    def grow(self, leaf: bytes) -> bytes:
        """Take one more leaf in; the nodes of its row."""
        self.nodes.load([row for row, _ in tree.wanted_rows(self.size)])
        added = b"".join(tree.append(self.size, leaf, self.nodes))
        self.size, self.leaf = self.size + 1, leaf.hex()
        self.nodes.known[self.size] = added
        return added


def tip(session: Session) -> Tip:
    """The ledger's end, remembered while the transaction lasts.

    Writing transactions come one after another (`database.Database.write`), so nobody else can
    append meanwhile.
    """
    known = session.info.get(TIP)
    if isinstance(known, Tip):
        return known
    row = session.execute(
        select(LedgerEntry.seq, LedgerEntry.leaf).order_by(LedgerEntry.seq.desc()).limit(1)
    ).first()
    size, leaf = (row[0], row[1]) if row else (0, None)
    session.info[TIP] = Tip(size, leaf, ledger_nodes(session))
    found: Tip = session.info[TIP]
    return found


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a statement came to stand, the SHA-256 of its text, and when its author made it."""

    seq: int
    digest: str
    claimed_at: datetime


def append(
    session: Session, statement: Statement, hand: Hand, at: datetime, actor_id: str | None
) -> Placed:
    """Have a statement signed and enter it at the end."""
    end, signed = tip(session), hand.sign(statement)
    entry = Entry(
        seq=end.size + 1,
        prev=end.leaf,
        recorded_at=clock.zulu(at),
        stmt_sha256=sha256_hex(signed.text),
        kid=signed.kid,
        sig=signed.sig,
    )
    row = {
        "seq": entry.seq,
        "statement_id": signed.statement.id,
        "kind": statement.type,
        "actor_id": actor_id,
        "enrolment_id": statement.subject,
        "statement": signed.text.decode(),
        "digest": entry.stmt_sha256,
        "entry": entry.text().decode(),
        "leaf": entry.leaf().hex(),
        "prev": entry.prev,
        "nodes": end.grow(entry.leaf()),
        "recorded_at": at,
    }
    session.execute(insert(LedgerEntry), [row])
    claimed_at = datetime.fromisoformat(signed.statement.claimed_at)
    return Placed(entry.seq, entry.stmt_sha256, claimed_at)


def entries(session: Session, after: int = 0) -> Iterator[Row[Any]]:
    """Every entry after a place, in order, streamed: all of its columns by name."""
    columns = (
        LedgerEntry.seq,
        LedgerEntry.statement_id,
        LedgerEntry.kind,
        LedgerEntry.actor_id,
        LedgerEntry.enrolment_id,
        LedgerEntry.statement,
        LedgerEntry.digest,
        LedgerEntry.entry,
        LedgerEntry.leaf,
        LedgerEntry.prev,
        LedgerEntry.nodes,
        LedgerEntry.recorded_at,
    )
    query = select(*columns).where(LedgerEntry.seq > after).order_by(LedgerEntry.seq)
    found: Iterable[Row[Any]] = session.execute(query.execution_options(yield_per=500))
    yield from found


def repeats(row: Row[Any], entry: Entry, statement: Statement) -> bool:
    """Whether the columns that serve for finding an entry say what its two texts say."""
    said = (
        *(statement.id, statement.type, statement.subject, entry.stmt_sha256, entry.prev),
        *(None if statement.actor == SERVER else statement.actor, entry.recorded_at),
    )
    return said == (
        *(row.statement_id, row.kind, row.enrolment_id, row.digest, row.prev),
        *(row.actor_id, clock.zulu(row.recorded_at)),
    )


ERASED = "erased"
"""The kind of an entry whose statement was erased, and the action of such an audit event."""


def erased_row(seq: int) -> dict[str, Any]:
    """What the columns of an entry say once its statement is erased: nothing."""
    return {
        "statement_id": f"{ERASED}-{seq}",
        "kind": ERASED,
        "actor_id": None,
        "enrolment_id": None,
        "statement": "",
    }


def says_nothing(row: Row[Any]) -> bool:
    """Whether the columns of an entry without a text say nothing that its entry does not."""
    entry = read_entry(row.entry)
    kept = (entry.stmt_sha256, entry.prev, entry.recorded_at)
    return (
        all(getattr(row, name) == value for name, value in erased_row(row.seq).items())
        and (row.digest, row.prev, clock.zulu(row.recorded_at)) == kept
    )


def erasures(session: Session) -> list[LedgerEntry]:
    """The entries by which something was erased, oldest first."""
    query = select(LedgerEntry).where(LedgerEntry.kind == ERASE)
    return list(session.scalars(query.order_by(LedgerEntry.seq)))


def erased_by(session: Session, seq: int, digest: str) -> Erasure | None:
    """The erasure that took the statement of this entry; None where none did.

    A copy that was restored knows some by their notices alone.
    """
    rows = [*erasures(session), *session.scalars(select(ErasureNotice))]
    for row in rows:
        erasure = read_erasure(read_entry(row.entry), read_statement(row.statement))
        if (seq, digest) in erasure.entries:
            return erasure
    return None


def of_enrolment(session: Session, enrolment_id: str) -> list[LedgerEntry]:
    """The entries about one enrolment, oldest first."""
    query = select(LedgerEntry).where(LedgerEntry.enrolment_id == enrolment_id)
    return list(session.scalars(query.order_by(LedgerEntry.seq)))


def page(session: Session, number: int, length: int = 50) -> list[LedgerEntry]:
    """One page of the ledger, newest first; `number` counts from 1."""
    query = select(LedgerEntry).order_by(LedgerEntry.seq.desc())
    return list(session.scalars(query.offset((number - 1) * length).limit(length)))


def at(session: Session, seq: int) -> LedgerEntry | None:
    """One entry by its place."""
    return session.get(LedgerEntry, seq)


def knows(session: Session, statement_id: str) -> bool:
    """Whether a statement of this id has been entered."""
    query = select(LedgerEntry.seq).where(LedgerEntry.statement_id == statement_id)
    return session.scalar(query) is not None


def size(session: Session) -> int:
    """How many entries there are."""
    return session.scalar(select(func.max(LedgerEntry.seq))) or 0


def newest_checkpoint(session: Session) -> LedgerCheckpoint | None:
    """The last checkpoint issued."""
    query = select(LedgerCheckpoint).order_by(LedgerCheckpoint.size.desc()).limit(1)
    return session.scalars(query).first()
