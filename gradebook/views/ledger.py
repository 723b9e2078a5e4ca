"""The ledger, for whoever audits: every statement, and the proof of one."""

from collections.abc import Mapping
from typing import Any

from flask import Blueprint, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from gradebook.ledger import notes
from gradebook.ledger.canonical import MalformedError
from gradebook.ledger.statements import Entry, read_entry, read_statement
from gradebook.records import kinds
from gradebook.records.faults import TornError, UnknownError
from gradebook.records.store import enrolments, ledger, people, schoolkeys, signatures
from gradebook.records.store.ledger import LedgerEntry
from gradebook.views import desk

bp = Blueprint("ledger", __name__)
PAGE = 50
LAST = 2147483647
"""What a number in the database may be at most."""


@bp.get("/ledger")
def index() -> str | Response:
    """Newest statements first; how long the ledger is, and by which key to check it."""
    if asked := request.args.get("entry", 0, type=int):
        return redirect(url_for("ledger.entry", seq=min(max(1, asked), LAST)), 303)
    number = max(1, request.args.get("page", 1, type=int))
    school = desk.school()
    with desk.reading() as act:
        size = ledger.size(act.session)
        rows = ledger.page(act.session, number, PAGE)
        line = schoolkeys.succession(act.session)
        students = {
            row.id: row.student.name
            for row in enrolments.enrolments(act.session, act.actor, current=False)
        }
        return render_template(
            "ledger/index.html",
            rows=[(row, kinds.kind_words(row.kind, _body(row.statement))) for row in rows],
            size=size,
            root=_root(act.session, size),
            checkpoint=ledger.newest_checkpoint(act.session),
            fingerprint=notes.fingerprint(school.vkey) if school else "",
            keys=[(line.fingerprint_of(one), one) for one in reversed(line.keys)],
            students=students,
            names=people.names(act.session),
            page=number,
            pages=max(1, -(-size // PAGE)),
        )


def _root(session: Session, size: int) -> str:
    """The root over all of it; nothing when entries are missing."""
    try:
        return ledger.ledger_nodes(session).root(size).hex()
    except TornError:
        return ""


def _path(session: Session, seq: int) -> tuple[int, list[str], str]:
    """How long the ledger is, an entry's path, the root; neither when entries are missing."""
    try:
        size, path, root = signatures.path_of(session, seq)
    except TornError:
        return ledger.size(session), [], ""
    return size, [one.hex() for one in path], root.hex()


def _body(statement: str) -> Mapping[str, Any]:
    """What a statement says; nothing for one that is gone or cannot be read."""
    try:
        return read_statement(statement).body
    except MalformedError:
        return {}


@bp.get(f"/ledger/<int(max={LAST}):seq>")
def entry(seq: int) -> str:
    """One statement in words and as signed, its signature, its path to the root."""
    with desk.reading() as act:
        row = ledger.at(act.session, seq)
        if row is None:
            raise UnknownError
        try:
            read = read_entry(row.entry)
            if not row.statement:
                return _erased(act.session, row, read)
            statement = read_statement(row.statement)
        except MalformedError:
            size = ledger.size(act.session)
            return render_template("ledger/unreadable.html", row=row, size=size)
        size, path, root = _path(act.session, seq)
        names = people.names(act.session)
        return render_template(
            "ledger/entry.html",
            row=row,
            entry=read,
            statement=statement,
            title=kinds.kind_words(row.kind, statement.body),
            sure=kinds.SURE.get(statement.assurance, statement.assurance),
            parts=kinds.parts(statement.body, names),
            fault=signatures.entry_fault(act.session, row, read, size),
            size=size,
            path=path,
            root=root,
            names=names,
        )


def _erased(session: Session, row: LedgerEntry, read: Entry) -> str:
    """An entry whose statement is gone: by which entry, or that nobody erased it."""
    by = ledger.erased_by(session, row.seq, row.digest)
    size, path, root = _path(session, row.seq)
    return render_template(
        "ledger/erased.html",
        row=row,
        entry=read,
        by=by,
        fault=signatures.blank_fault(session, row, size, erased=by is not None),
        size=size,
        path=path,
        root=root,
    )
