"""The proof of one record: its entry, its signature, its place in the tree, its rows."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session

from gradebook.ledger import keys, tree
from gradebook.ledger.canonical import MalformedError, sha256_hex
from gradebook.ledger.statements import Entry, Statement, read_entry, read_statement
from gradebook.records.faults import TornError
from gradebook.records.kinds import SURE
from gradebook.records.statement import record_of, says
from gradebook.records.store import ledger, schoolkeys
from gradebook.records.store.together import Asked, together
from gradebook.records.tables.ledger import LedgerEntry, SigningKey
from gradebook.records.tables.lessons import LessonRecord
from syllabus.saying import say


@dataclass(frozen=True, slots=True)
class RecordProof:
    """What checking one record found."""

    unaltered: bool
    words: str
    signed_by: str = say("not proven")


UNREADABLE = say("Its entry in the ledger cannot be read.")


def not_certified(sequence: int | None, proof: str) -> TornError:
    """What is told instead of a copy, of an entry for which something does not hold."""
    return TornError(
        say(
            "Entry {sequence}: {proof} Nothing is certified until this is explained: "
            "run windtee verify.",
            sequence=sequence,
            proof=proof,
        )
    )


ENTRY = Asked(
    select(LedgerEntry.seq, LedgerEntry.entry, LedgerEntry.statement).where(
        LedgerEntry.seq == bindparam("placed_at")
    )
)
SIZE = Asked(select(func.max(LedgerEntry.seq).label("size")))


def placed(record: LessonRecord) -> tuple[Asked, Asked]:
    """Asks for the record's entry and for the ledger's size: what `judged` needs."""
    return ENTRY.of(placed_at=record.sequence or 0), SIZE


def proof_of(session: Session, record: LessonRecord) -> RecordProof:
    """Whether the record's rows still say what was signed, by whom, at its place."""
    rows, sizes = together(session, *placed(record))
    return judged(session, record, rows, sizes[0].size or 0)


def judged(
    session: Session, record: LessonRecord, rows: Sequence[Any], size: int
) -> RecordProof:
    """The same, of what was asked by `placed`."""
    row = rows[0] if rows else None
    if row is None:
        return RecordProof(unaltered=False, words=say("Its entry in the ledger is missing."))
    try:
        entry, statement = read_entry(row.entry), read_statement(row.statement)
    except MalformedError:
        return RecordProof(unaltered=False, words=UNREADABLE)
    signed_by = SURE.get(statement.assurance, statement.assurance)
    words = _fault(session, record, row, (entry, statement), size)
    if words is not None:
        return RecordProof(unaltered=False, words=words, signed_by=signed_by)
    return RecordProof(
        unaltered=True, words=say("Unaltered since it was signed."), signed_by=signed_by
    )


def _fault(
    session: Session,
    record: LessonRecord,
    row: Any,  # noqa: ANN401 - a row of `placed`
    read: tuple[Entry, Statement],
    size: int,
) -> str | None:
    entry, said = read
    if record.digest != entry.stmt_sha256:
        return say("The signed text is not the one that was signed.")
    words = entry_fault(session, row, entry, size)
    if words is not None:
        return words
    if not says(said.body, record_of(record)):
        return say("The record differs from the text that was signed.")
    return None


def entry_fault(session: Session, row: Any, entry: Entry, size: int) -> str | None:  # noqa: ANN401
    """What does not hold of an entry (a row of `placed`) in itself; None when all does."""
    text = row.statement.encode()
    if sha256_hex(text) != entry.stmt_sha256:
        return say("The signed text is not the one that was signed.")
    public = public_key(session, entry.kid)
    if public is None or not keys.verify_statement(public, text, bytes.fromhex(entry.sig)):
        return say("The signature is not right.")
    return _place_fault(session, row.seq, entry, size)


def blank_fault(session: Session, row: LedgerEntry, size: int, *, erased: bool) -> str | None:
    """What does not hold of an entry whose statement is gone; None when it was erased."""
    if not erased:
        return say("The signed text is gone, and no entry erased it.")
    return _place_fault(session, row.seq, read_entry(row.entry), size)


def public_key(session: Session, kid: str) -> bytes | None:
    """The public key of this name: a person's, or the school's own."""
    row = session.get(SigningKey, kid)
    if row is not None:
        return bytes.fromhex(row.public)
    line = schoolkeys.succession(session).keys
    return next((one.public for one in line if one.kid == kid), None)


def _place_fault(session: Session, seq: int, entry: Entry, size: int) -> str | None:
    try:
        proof, root = ledger.ledger_nodes(session).path(seq - 1, size)
    except TornError:
        return say("Its place in the ledger cannot be shown: other entries are missing.")
    if entry.seq == seq and tree.verify_inclusion(seq - 1, size, entry.leaf(), proof, root):
        return None
    return say("Its place in the ledger is not the one it was signed into.")


def path_of(session: Session, seq: int) -> tuple[int, list[bytes], bytes]:
    """The ledger's size now, the hashes from an entry up to the root, and the root.

    TornError when entries that the path needs are missing.
    """
    size = ledger.size(session)
    proof, root = ledger.ledger_nodes(session).path(seq - 1, size)
    return size, proof, root
