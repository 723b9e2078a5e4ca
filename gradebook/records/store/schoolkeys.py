"""The school's keys as its ledger tells them."""

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.ledger import keys
from gradebook.ledger.canonical import MalformedError
from gradebook.ledger.statements import Entry, Statement, read_entry, read_statement
from gradebook.ledger.succession import (
    CHANGES,
    OPEN,
    Succession,
    UnfitError,
    limits,
    public_in,
)
from gradebook.records.store import people
from gradebook.records.tables.ledger import LedgerEntry

Told = tuple[Entry, Statement]


def succession(session: Session) -> Succession:
    """The school's keys from the opening on; empty before there is a ledger.

    An opening or a change that does not hold is passed over: `proof.prove` finds it.
    """
    school = people.school(session)
    line = Succession(origin=school.origin if school else "")
    for entry, statement in told(session):
        if statement.type == OPEN and not line.keys:
            if public := public_in(statement.body):
                line.begin(public)
        elif line.keys and _is_signed(entry, statement, line):
            try:
                line.take(entry, statement)
            except (MalformedError, UnfitError):
                continue
    return line


def told(session: Session) -> Iterator[Told]:
    """The opening and every change of the school's key, in order, as far as readable."""
    query = select(LedgerEntry.entry, LedgerEntry.statement)
    kinds = query.where(LedgerEntry.kind.in_((OPEN, *CHANGES))).order_by(LedgerEntry.seq)
    for entry, statement in session.execute(kinds):
        try:
            yield read_entry(entry), read_statement(statement)
        except MalformedError:
            continue


def changes(session: Session) -> list[LedgerEntry]:
    """The entries that changed the school's key, oldest first."""
    query = select(LedgerEntry).where(LedgerEntry.kind.in_(CHANGES)).order_by(LedgerEntry.seq)
    return list(session.scalars(query))


def good_sizes(session: Session) -> dict[str, int]:
    """The last good size of each key that the ledger calls compromised, by the key's name."""
    return limits(statement for _, statement in told(session))


def _is_signed(entry: Entry, statement: Statement, line: Succession) -> bool:
    """Whether the key in force, or the one that takes over, signed this change."""
    publics = [line.keys[-1].public, public_in(statement.body) or b""]
    public = next((one for one in publics if keys.kid(one) == entry.kid), b"")
    return keys.verify_statement(public, statement.text(), bytes.fromhex(entry.sig))
