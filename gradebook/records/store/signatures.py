"""The proof of one record: its entry, its signature, its place in the tree, its rows."""

from dataclasses import dataclass

from sqlalchemy.orm import Session

from gradebook.ledger import keys, notes, tree
from gradebook.ledger.canonical import MalformedError, sha256_hex
from gradebook.ledger.statements import Entry, Statement, read_entry, read_statement
from gradebook.records.kinds import SURE
from gradebook.records.statement import record_of, says
from gradebook.records.store import ledger, people
from gradebook.records.tables.ledger import LedgerEntry, SigningKey
from gradebook.records.tables.lessons import LessonRecord
from syllabus.saying import say


@dataclass(frozen=True, slots=True)
class RecordProof:
    """What checking one record found."""

    unaltered: bool
    words: str
    signed_by: str = say("not proven")


def proof_of(session: Session, record: LessonRecord) -> RecordProof:
    """Whether the record's rows still say what was signed, by whom, at its place."""
    row = ledger.at(session, record.sequence or 0)
    if row is None:
        return RecordProof(unaltered=False, words=say("Its entry in the ledger is missing."))
    try:
        entry, statement = read_entry(row.entry), read_statement(row.statement)
    except MalformedError:
        return RecordProof(
            unaltered=False, words=say("Its entry in the ledger cannot be read.")
        )
    signed_by = SURE.get(statement.assurance, statement.assurance)
    words = _fault(session, record, row, entry, statement)
    if words is not None:
        return RecordProof(unaltered=False, words=words, signed_by=signed_by)
    return RecordProof(
        unaltered=True, words=say("Unaltered since it was signed."), signed_by=signed_by
    )


def _fault(
    session: Session, record: LessonRecord, row: LedgerEntry, entry: Entry, said: Statement
) -> str | None:
    if record.digest != entry.stmt_sha256:
        return say("The signed text is not the one that was signed.")
    words = entry_fault(session, row, entry)
    if words is not None:
        return words
    if not says(said.body, record_of(record)):
        return say("The record differs from the text that was signed.")
    return None


def entry_fault(session: Session, row: LedgerEntry, entry: Entry) -> str | None:
    """What does not hold of an entry in itself; None when all does."""
    text = row.statement.encode()
    if sha256_hex(text) != entry.stmt_sha256:
        return say("The signed text is not the one that was signed.")
    public = public_key(session, entry.kid)
    if public is None or not keys.verify_statement(public, text, bytes.fromhex(entry.sig)):
        return say("The signature is not right.")
    if not _is_in_tree(session, row, entry):
        return say("Its place in the ledger is not the one it was signed into.")
    return None


def public_key(session: Session, kid: str) -> bytes | None:
    """The public key of this name: a person's, or the school's own."""
    row = session.get(SigningKey, kid)
    if row is not None:
        return bytes.fromhex(row.public)
    school = people.school(session)
    public = notes.read_verifier_key(school.vkey)[2] if school else b""
    return public if keys.kid(public) == kid else None


def _is_in_tree(session: Session, row: LedgerEntry, entry: Entry) -> bool:
    size, proof, root = path_of(session, row.seq)
    return entry.seq == row.seq and tree.verify_inclusion(
        row.seq - 1, size, entry.leaf(), proof, root
    )


def path_of(session: Session, seq: int) -> tuple[int, list[bytes], bytes]:
    """The ledger's size now, the hashes from an entry up to the root, and the root."""
    size, nodes = ledger.size(session), ledger.ledger_nodes(session)
    return size, tree.inclusion(seq - 1, size, nodes), nodes.root(size)
