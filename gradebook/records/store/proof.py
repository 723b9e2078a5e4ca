"""Proving the whole database: the ledger in itself, against checkpoints, and the rows by it."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import Any, TypeVar

from sqlalchemy import Row, func, select
from sqlalchemy.orm import Session, selectinload

from gradebook.ledger import notes, tree
from gradebook.ledger.chain import ALTERED, CUT, SUPERSEDED, Chain, Edge, Finding, Stored, worst
from gradebook.ledger.notes import Checkpoint
from gradebook.ledger.statements import Statement
from gradebook.records import lifecycle
from gradebook.records.projection import CHANGED, WRITTEN, Mirror, Projection
from gradebook.records.statement import says
from gradebook.records.store import auditing, ledger
from gradebook.records.tables import Table
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import AuditNode, LedgerCheckpoint
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.values import State

CHUNK = 200


@dataclass(slots=True)
class Proof:
    """What reading everything found. `code` is 0 when all holds (see `ledger.chain`)."""

    size: int = 0
    root: bytes = b""
    rows: int = 0
    events: int = 0
    checkpoints: int = 0
    findings: list[Finding] = field(default_factory=list)

    @property
    def code(self) -> int:
        """The exit code that says most."""
        return worst(self.findings)


def prove(session: Session, vkey: str, outside: Sequence[Checkpoint] = ()) -> Proof:
    """Read the ledger from its first entry, then hold rows and audit trail against it.

    `outside` are checkpoints kept elsewhere, their signatures already checked.
    """
    proof = Proof()
    chain = Chain(notes.read_verifier_key(vkey)[2])
    projection = Projection()
    roots = {one.size: one for one in (*outside, *_inside(session, vkey, proof))}
    for batch in _chunks(_read(chain, session, roots, proof)):
        for seq, digest, statement in batch:
            projection.take(seq, digest, statement)
        _rows(session, batch, proof)
    proof.size, proof.root = chain.size, chain.root()
    _beyond(roots, proof)
    _last(session, projection, proof)
    _standing(session, projection, proof)
    _unstated(session, projection, proof)
    _audit(session, projection.marks, proof)
    return proof


Taken = tuple[int, str, Statement]
Item = TypeVar("Item")


def _chunks(items: Iterable[Item]) -> Iterator[list[Item]]:
    """The items in lists of `CHUNK`."""
    rest = iter(items)
    while part := list(islice(rest, CHUNK)):
        yield part


def _inside(session: Session, vkey: str, proof: Proof) -> Iterator[Checkpoint]:
    """The checkpoints kept in the database itself."""
    for row in session.scalars(select(LedgerCheckpoint)):
        try:
            yield notes.read_checkpoint(notes.open_note(row.note, vkey))
        except notes.NoteError as fault:
            words = f"The checkpoint over {row.size} entries is not ours: {fault}."
            proof.findings.append(Finding(ALTERED, row.size, words))


def _read(
    chain: Chain, session: Session, roots: dict[int, Checkpoint], proof: Proof
) -> Iterator[Taken]:
    """Every entry in order with its statement; roots are compared on the way."""
    columns: dict[int, Row[Any]] = {}
    for row, statement, findings in chain.read(_stored(session, columns)):
        proof.findings += findings
        held = roots.get(chain.size)
        if held is not None:
            proof.checkpoints += 1
            if held.root != chain.root():
                words = f"The first {held.size} entries are not those of the checkpoint kept."
                altered = any(one.code == ALTERED for one in proof.findings)
                code = ALTERED if altered else CUT  # whole in itself: another ledger
                proof.findings.append(Finding(code, held.size, words))
        found = columns.pop(row.seq)
        if statement is not None and not findings and not ledger.repeats(found, statement):
            words = f"Entry {row.seq}: it is filed under something that it does not say."
            proof.findings.append(Finding(ALTERED, row.seq, words))
        if statement is not None:
            yield row.seq, found.digest, statement


def _stored(session: Session, columns: dict[int, Row[Any]]) -> Iterator[Stored]:
    for row in ledger.entries(session):
        columns[row.seq] = row
        yield Stored(row.seq, row.entry, row.statement, row.leaf, row.nodes)


def _beyond(roots: dict[int, Checkpoint], proof: Proof) -> None:
    """A checkpoint over more entries than there are: the end was cut off."""
    longest = max(roots, default=0)
    if longest > proof.size:
        words = (
            f"A checkpoint covers {longest} entries, but only {proof.size} are here: "
            f"{proof.size + 1} to {longest} are missing."
        )
        proof.findings.append(Finding(CUT, longest, words))


def _rows(session: Session, batch: Iterable[Taken], proof: Proof) -> None:
    """Hold the rows that these statements made against what they say."""
    groups: dict[str, list[Taken]] = {}
    for one in batch:
        if one[2].type in WRITTEN:
            groups.setdefault(one[2].type, []).append(one)
    for kind, members in groups.items():
        said = {
            str(one[2].body.get(WRITTEN[kind].name)): (one[0], one[2].body) for one in members
        }
        _compare(session, WRITTEN[kind], said, proof)


def _compare(
    session: Session, mirror: Mirror, said: dict[str, tuple[int, Any]], proof: Proof
) -> None:
    found = _load(session, mirror.table, list(said))
    for name, (seq, body) in said.items():
        proof.rows += 1
        row = found.get(name)
        if row is None:
            words = f"Entry {seq}: the row it made is not there any more."
        elif not says(body, mirror.body(row)):
            words = f"Entry {seq}: the row differs from what was signed."
        else:
            continue
        proof.findings.append(Finding(ALTERED, seq, words))
    session.expunge_all()


def _load(session: Session, table: type[Table], names: list[str]) -> dict[str, Any]:
    identity = table.__mapper__.primary_key[0]
    query = select(table).where(identity.in_(names))
    if table is LessonRecord:
        rows = (LessonRecord.grades, LessonRecord.errors, LessonRecord.readings)
        query = query.options(*(selectinload(one) for one in rows))
    return {row.id: row for row in session.scalars(query).unique()}  # type: ignore[attr-defined]


def _last(session: Session, projection: Projection, proof: Proof) -> None:
    """Hold rows against the last statement that changed them."""
    groups: dict[str, dict[str, tuple[int, Any]]] = {}
    for (kind, name), said in projection.last.items():
        groups.setdefault(kind, {})[name] = said
    for kind, members in groups.items():
        for part in _chunks(members.items()):
            _compare(session, CHANGED[kind], dict(part), proof)


def _standing(session: Session, projection: Projection, proof: Proof) -> None:
    """Hold each record's state, digest and place against the ledger's."""
    columns = (LessonRecord.id, LessonRecord.state, LessonRecord.digest, LessonRecord.sequence)
    query = select(*columns).where(LessonRecord.state != State.DRAFT)
    for row in session.execute(query.execution_options(yield_per=500)):
        held = projection.records.get(row.id)
        if held is None:
            continue  # told by `_unstated`
        if (row.digest, row.sequence) != (held.digest, held.seq):
            words = f"Entry {held.seq}: the record no longer names the entry that signed it."
            proof.findings.append(Finding(ALTERED, held.seq, words))
        elif row.state != held.state:
            shown = row.state in lifecycle.EFFECTIVE and held.state not in lifecycle.EFFECTIVE
            words = (
                f"Entry {held.seq}: shown as {row.state}, but by the ledger it is {held.state}."
            )
            proof.findings.append(Finding(SUPERSEDED if shown else ALTERED, held.seq, words))


def _unstated(session: Session, projection: Projection, proof: Proof) -> None:
    """Rows that no statement made."""
    for table in dict.fromkeys(mirror.table for mirror in WRITTEN.values()):
        identity = table.__mapper__.primary_key[0]
        query = select(identity)
        if table is LessonRecord:
            query = query.where(LessonRecord.state != State.DRAFT)
        there = set(session.scalars(query))
        for name in sorted(there - projection.stated.get(table, set())):
            words = f"{table.__tablename__} {name}: nobody signed this row into being."
            proof.findings.append(Finding(ALTERED, None, words))


def _audit(session: Session, marks: dict[int, str], proof: Proof) -> None:
    """Read the audit trail as a tree of its own, and against what the ledger says of it."""
    edge = Edge()
    query = select(AuditNode, AuditEvent).join(AuditEvent).order_by(AuditNode.place)
    for node, event in session.execute(query.execution_options(yield_per=500)):
        nodes = edge.grow(tree.leaf_hash(auditing.text_of(event)))
        proof.events += 1
        right = node.place == edge.size and nodes == node.nodes
        if not right or marks.get(edge.size) not in (None, edge.root().hex()):
            words = f"Audit event {event.id} is not what was written, or one before it is gone."
            proof.findings.append(Finding(ALTERED, None, words))
            return
    session.expunge_all()
    longest = max(marks, default=0)
    if longest > edge.size:
        words = f"The ledger counts {longest} audit events, but only {edge.size} are here."
        proof.findings.append(Finding(CUT, None, words))
    total = session.scalar(select(func.count()).select_from(AuditEvent)) or 0
    if total != proof.events:
        words = f"{total - proof.events} audit events stand outside the trail's tree."
        proof.findings.append(Finding(ALTERED, None, words))
