"""Proving the whole database: the ledger in itself, against checkpoints, and the rows by it."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import Any, TypeVar

from sqlalchemy import Row, func, select
from sqlalchemy.orm import Session

from gradebook.ledger import notes, tree
from gradebook.ledger.chain import (
    ALTERED,
    CUT,
    SUPERSEDED,
    UNKNOWN_KEY,
    Chain,
    Edge,
    Finding,
    Read,
    worst,
)
from gradebook.ledger.erasures import Erasure, Listed, notice_of, read_notice
from gradebook.ledger.gleaning import Gleaning, Stored, one_by_one
from gradebook.ledger.notes import Checkpoint
from gradebook.ledger.statements import Statement
from gradebook.ledger.succession import DisownedError, Succession
from gradebook.records import lifecycle
from gradebook.records.jobs import Tell, silent
from gradebook.records.projection import Projection
from gradebook.records.rebuilding import Made, made_by
from gradebook.records.store import auditing, ledger, projected, schoolkeys
from gradebook.records.store.projected import CHUNK, Difference
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.erasures import ErasureNotice
from gradebook.records.tables.ledger import AuditNode, LedgerCheckpoint


@dataclass(slots=True)
class Proof:
    """What reading everything found. `code` is 0 when all holds (see `ledger.chain`)."""

    size: int = 0
    root: bytes = b""
    rows: int = 0
    events: int = 0
    checkpoints: int = 0
    erased: Mapping[int, Erasure] = field(default_factory=dict)
    """Entries that were erased, each with its erasure."""
    findings: list[Finding] = field(default_factory=list)

    @property
    def code(self) -> int:
        """The exit code that says most."""
        return worst(self.findings)


def prove(
    session: Session,
    vkey: str,
    outside: Sequence[Checkpoint] = (),
    tell: Tell = silent,
    gleaning: Gleaning = one_by_one,
) -> Proof:
    """Read the ledger from its first entry, then hold rows and audit trail against it.

    `vkey` is the line of the school's key that is trusted, the present one or one before it.

    `outside` are checkpoints kept elsewhere, their signatures already checked.
    """
    proof, projection, found = read_through(session, vkey, outside, tell, gleaning)
    proof.findings += map(_told, found)
    _audit(session, projection, proof, tell)
    _indexes(session, proof)
    return proof


def read_through(
    session: Session,
    vkey: str,
    outside: Sequence[Checkpoint],
    tell: Tell = silent,
    gleaning: Gleaning = one_by_one,
) -> tuple[Proof, Projection, list[Difference]]:
    """Read the ledger and hold the rows against it: what follows from it, and what differs.

    What does not hold of the ledger itself is among the proof's findings.
    """
    proof = Proof()
    line = schoolkeys.succession(session)
    first = line.keys[0].public if line.keys else notes.read_verifier_key(vkey)[2]
    chain = Chain(first, schoolkeys.good_sizes(session))
    projection, found = Projection(), list[Difference]()
    roots = {one.size: one for one in (*outside, *_inside(session, line, proof))}
    length = ledger.size(session)
    columns: dict[int, Row[Any]] = {}
    rows = chain.read(_stored(session, columns), gleaning)
    for batch in _chunks(_read(chain, rows, columns, roots, proof)):
        made = list[tuple[int, Made]]()
        for seq, digest, statement in batch:
            projection.take(seq, digest, statement)
            one = made_by(statement)
            if one is not None:
                made.append((seq, one))
        proof.rows += len(made)
        tell("entries", chain.size, length)
        found += projected.against_made(session, made)
    proof.size, proof.root = chain.size, chain.root()
    chain.line.origin = line.origin
    proof.findings += _trusted(chain.line, vkey)
    _erased(session, chain, proof)
    projection.erased_events = chain.erasures.events
    _beyond(roots, proof)
    found += projected.against_later(session, projection)
    return proof, projection, found


Taken = tuple[int, str, Statement]
Item = TypeVar("Item")


def _chunks(items: Iterable[Item]) -> Iterator[list[Item]]:
    """The items in lists of `CHUNK`."""
    rest = iter(items)
    while part := list(islice(rest, CHUNK)):
        yield part


def _trusted(line: Succession, vkey: str) -> Iterator[Finding]:
    """Whether the ledger's keys lead from the one trusted to the one in force."""
    if any(line.line_of(one) == vkey for one in line.followed):
        return
    if any(line.line_of(one) == vkey for one in line.keys):
        words = "The key trusted was compromised: compare the new fingerprint with the school."
    else:
        words = "The ledger is under another key than the one trusted."
    yield Finding(UNKNOWN_KEY, None, words)


def _inside(session: Session, line: Succession, proof: Proof) -> Iterator[Checkpoint]:
    """The checkpoints kept in the database itself, but those of a key not believed then."""
    for row in session.scalars(select(LedgerCheckpoint)):
        try:
            yield line.open(row.note)
        except DisownedError:
            continue
        except notes.NoteError as fault:
            words = f"The checkpoint over {row.size} entries is not ours: {fault}."
            proof.findings.append(Finding(ALTERED, row.size, words))


def _read(
    chain: Chain,
    rows: Iterable[Read],
    columns: dict[int, Row[Any]],
    roots: dict[int, Checkpoint],
    proof: Proof,
) -> Iterator[Taken]:
    """Every entry in order with its statement; roots are compared on the way."""
    for row, signed, findings in rows:
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
        if row.seq in chain.erasures.blank and not findings and not ledger.says_nothing(found):
            words = f"Entry {row.seq}: its statement is gone, yet it is filed under something."
            proof.findings.append(Finding(ALTERED, row.seq, words))
        if signed is not None and not findings and not ledger.repeats(found, *signed):
            words = f"Entry {row.seq}: it is filed under something that it does not say."
            proof.findings.append(Finding(ALTERED, row.seq, words))
        if signed is not None:
            yield row.seq, found.digest, signed[1]


def _stored(session: Session, columns: dict[int, Row[Any]]) -> Iterator[Stored]:
    for row in ledger.entries(session):
        columns[row.seq] = row
        yield Stored(row.seq, row.entry, row.statement, row.leaf, row.nodes)


def _erased(session: Session, chain: Chain, proof: Proof) -> None:
    """Tell texts that were erased from texts that are gone.

    Erasures that an older copy does not know of itself count by the notice kept of them.
    """
    for row in session.scalars(select(ErasureNotice).order_by(ErasureNotice.seq)):
        text = notice_of(row.entry, row.statement)
        publics = chain.line.publics_at(row.seq)
        chain.erasures.accept_notice(read_notice(text, publics)[0])
    told = chain.erasures.unexplained()
    proof.findings += [Finding(ALTERED, seq, words) for seq, words in told]
    proof.erased = chain.erasures.by


def _beyond(roots: dict[int, Checkpoint], proof: Proof) -> None:
    """A checkpoint over more entries than there are: the end was cut off."""
    longest = max(roots, default=0)
    if longest > proof.size:
        words = (
            f"A checkpoint covers {longest} entries, but only {proof.size} are here: "
            f"{proof.size + 1} to {longest} are missing."
        )
        proof.findings.append(Finding(CUT, longest, words))


def _told(one: Difference) -> Finding:
    """A difference as a finding; 6 for a record that counts though it was superseded."""
    if one.seq is None:
        words = f"{one.table.__tablename__} {one.name}: nobody signed this row into being."
        return Finding(ALTERED, None, words)
    entry = f"Entry {one.seq}: "
    if not one.columns:
        return Finding(ALTERED, one.seq, f"{entry}the row it made is not there any more.")
    if "state" in one.columns:
        shown, held = one.columns["state"]
        outdated = shown in lifecycle.EFFECTIVE and held not in lifecycle.EFFECTIVE
        words = f"{entry}shown as {shown}, but by the ledger it is {held}."
        return Finding(SUPERSEDED if outdated else ALTERED, one.seq, words)
    words = f"the row differs from what was signed: {', '.join(one.columns)}."
    return Finding(ALTERED, one.seq, f"{entry}{words}")


def _leaf(node: AuditNode, event: AuditEvent, erased: Mapping[Listed, Erasure]) -> bytes | None:
    """The hash of an event as a leaf; of an erased one, which must say nothing, as it was."""
    held = node.nodes[: ledger.HASH]
    erasure = erased.get((event.id, held.hex()))
    if erasure is None:
        return tree.leaf_hash(auditing.text_of(event))
    return held if auditing.says_nothing(event, erasure.at) else None


def _audit(session: Session, projection: Projection, proof: Proof, tell: Tell) -> None:
    """Read the audit trail as a tree of its own, and against what the ledger says of it."""
    edge, marks, erased = Edge(), projection.marks, projection.erased_events
    total = session.scalar(select(func.count()).select_from(AuditEvent)) or 0
    query = select(AuditNode, AuditEvent).join(AuditEvent).order_by(AuditNode.place)
    for node, event in session.execute(query.execution_options(yield_per=500)):
        tell("events", proof.events, total)
        leaf = _leaf(node, event, erased)
        nodes = edge.grow(leaf or b"")
        proof.events += 1
        right = leaf is not None and node.place == edge.size and nodes == node.nodes
        if not right or marks.get(edge.size) not in (None, edge.root().hex()):
            words = f"Audit event {event.id} is not what was written, or one before it is gone."
            proof.findings.append(Finding(ALTERED, None, words))
            return
    session.expunge_all()
    longest = max(marks, default=0)
    if longest > edge.size:
        words = f"The ledger counts {longest} audit events, but only {edge.size} are here."
        proof.findings.append(Finding(CUT, None, words))
    if total != proof.events:
        words = f"{total - proof.events} audit events stand outside the trail's tree."
        proof.findings.append(Finding(ALTERED, None, words))


def _indexes(session: Session, proof: Proof) -> None:
    """Let SQLite say whether its indexes agree with their tables: it reads from either."""
    if session.get_bind().dialect.name != "sqlite":
        return
    said = session.connection().exec_driver_sql("PRAGMA integrity_check(1)").scalar_one()
    if said != "ok":
        proof.findings.append(Finding(ALTERED, None, f"The file is damaged: {said}."))
