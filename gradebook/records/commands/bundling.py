"""The portable file of one enrolment: its entries with their proofs, and what a copy shows."""

import json
from collections.abc import Iterable
from typing import Any

from sqlalchemy.orm import Session

from gradebook.ledger import tree
from gradebook.ledger.bundle import Verdict, verify_bundle, write_bundle
from gradebook.ledger.bundle_file import FORMAT
from gradebook.ledger.succession import CHANGES, OPEN
from gradebook.records.commands.checkpointing import LedgerCheckpoint
from gradebook.records.copying.papers import Papers
from gradebook.records.store import copies, ledger
from gradebook.records.store.copies import LedgerEntry

SIGN, VOID = "record.sign", "record.void"
OF_SCHOOL = (OPEN, *CHANGES)
"""The entries by which the school's own keys come and go: in every file."""
Fields = dict[str, Any]


def begin(session: Session, papers: Papers, issued_at: str, shown: Fields) -> Fields:
    """The part of the file that the certificate binds: whose record it is, what it shows."""
    row = papers.enrolment
    return {
        "format": FORMAT,
        "origin": papers.school.origin,
        "vkey": papers.school.vkey,
        "issued_at": issued_at,
        "subject": {
            "enrolment": row.id,
            "student": row.student_id,
            "name": row.student.name,
            "course": papers.course.title,
        },
        "revisions": copies.revision_files(session, list(papers.courses)),
        "shown": shown,
    }


def listed(session: Session, enrolment_id: str, certifier: str) -> dict[str, list[int]]:
    """The entries a certificate lists: all about the enrolment, and the keys that signed them.

    `certifier` is the kid of whoever signs the certificate.
    """
    about = ledger.of_enrolment(session, enrolment_id)
    kids = {certifier, *(json.loads(row.entry)["kid"] for row in about)}
    beside = [
        row
        for row in copies.key_entries(session)
        if row.kind in OF_SCHOOL or json.loads(row.statement)["body"]["kid"] in kids
    ]
    return {"entries": [row.seq for row in about], "keys": [row.seq for row in beside]}


def finish(
    session: Session,
    fields: Fields,
    lists: dict[str, list[int]],
    seq: int,
    checkpoint: LedgerCheckpoint,
) -> bytes:
    """The whole file; `seq` is its certificate, which the checkpoint covers."""
    size, nodes = checkpoint.size, ledger.ledger_nodes(session)
    rows = [_row(session, one) for one in sorted([*lists["entries"], *lists["keys"], seq])]
    items = [
        {
            "seq": row.seq,
            "entry": row.entry,
            "statement": row.statement,
            "proof": [one.hex() for one in tree.inclusion(row.seq - 1, size, nodes)],
        }
        for row in rows
    ]
    whole = {
        **fields,
        "checkpoint": checkpoint.note,
        "keys": list(_keys(rows)),
        "entries": items,
        "current": _current(rows),
    }
    return write_bundle(whole)


def _row(session: Session, seq: int) -> LedgerEntry:
    row = ledger.at(session, seq)
    if row is None:
        raise RuntimeError(f"entry {seq} was there a moment ago")
    return row


def _keys(rows: Iterable[LedgerEntry]) -> Iterable[Fields]:
    for row in rows:
        if row.kind in (*OF_SCHOOL, "key.enrol"):
            told = json.loads(row.statement)["body"]
            yield {name: told[name] for name in ("kid", "public", "holder", "name")}


def _current(rows: Iterable[LedgerEntry]) -> list[str]:
    """The lesson records in force: what no later statement replaces or voids."""
    kept: dict[str, str] = {}
    for row in rows:
        if row.kind in (SIGN, VOID):
            told = json.loads(row.statement)["body"]
            kept.pop(told.get("supersedes" if row.kind == SIGN else "voids") or "", None)
        if row.kind == SIGN:
            kept[row.digest] = row.statement_id
    return list(kept.values())


def judged(data: bytes, vkey: str) -> Verdict:
    """The verdict on a file just made, by the same eyes that anybody else will use."""
    return verify_bundle(data, vkey)
