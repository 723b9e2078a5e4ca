"""Destroying what there is of one student, guards away meanwhile; `carrying` decides whose."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import TypeVar

from sqlalchemy import ColumnElement, Connection, delete, func, or_, select, update
from sqlalchemy.orm import Session

from gradebook.ledger.erasures import Erasure
from gradebook.records import guards
from gradebook.records.erasure import FORGOTTEN, OF_ACCOUNT, OF_ENROLMENT, OF_RECORD
from gradebook.records.store import auditing, ledger
from gradebook.records.store.erasing import ErasureRequest, Subject
from gradebook.records.tables import Table
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import AuditNode, LedgerEntry
from gradebook.records.tally import tally

PART = 500
"""So many names at most go into one statement of SQL."""
PLAINLY = {"synchronize_session": False}
Name = TypeVar("Name")


class ErasingError(Exception):
    """Nothing was erased; the words say why."""


def _owned(who: Subject) -> dict[type[Table], ColumnElement[bool]]:
    """The condition on the rows that go of each table, in an order that holds."""
    wanted: dict[type[Table], list[ColumnElement[bool]]] = defaultdict(list)
    for table, column in OF_RECORD:
        wanted[table].append(column.in_(who.records))
    for table, column in OF_ENROLMENT:
        wanted[table].append(column.in_(who.enrolments))
    for table, column in OF_ACCOUNT if who.account else ():
        wanted[table].append(column == who.person_id)
    return {table: or_(*conditions) for table, conditions in wanted.items()}


def parts(names: Sequence[Name]) -> Iterator[Sequence[Name]]:
    """The names, so many at a time as one statement takes."""
    for start in range(0, len(names), PART):
        yield names[start : start + PART]


def counted(session: Session, who: Subject) -> dict[str, int]:
    """How many rows of which table will go."""
    numbers = {
        table.__tablename__: session.scalar(
            select(func.count()).select_from(table).where(wanted)
        )
        for table, wanted in _owned(who).items()
    }
    return {name: number for name, number in sorted(numbers.items()) if number}


def destroy(session: Session, who: Subject, erasure: Erasure) -> None:
    """Guards off, rows blanked and deleted, guards on again and compared."""
    session.flush()
    connection = session.connection()
    before = tally(connection).rows
    expected = counted(session, who)
    guards.remove(connection)
    _blank(session, erasure)
    for emptied in FORGOTTEN:
        session.execute(delete(emptied), execution_options=PLAINLY)
    for table, wanted in _owned(who).items():
        session.execute(delete(table).where(wanted), execution_options=PLAINLY)
    others = ErasureRequest.person_id == who.person_id, ErasureRequest.id != erasure.name
    session.execute(delete(ErasureRequest).where(*others))
    guards.install(connection)
    session.expire_all()
    if faults := guards.missing(connection):
        raise ErasingError(f"The guards are not what they were: {'; '.join(faults)}.")
    _compare(before, tally(connection).rows, expected)
    broken = _orphans(connection)
    if broken:
        raise ErasingError(f"Other rows refer to what would go: {broken}.")


def _compare(
    before: Mapping[str, int], after: Mapping[str, int], expected: Mapping[str, int]
) -> None:
    """Return when each table lost just the rows that were to go."""
    loose = {table.__tablename__ for table in FORGOTTEN} | {ErasureRequest.__tablename__}
    wrong = [
        name
        for name, rows in before.items()
        if name not in loose and rows - after.get(name, 0) != expected.get(name, 0)
    ]
    if wrong:
        raise ErasingError(f"More or less would go than was counted: {', '.join(wrong)}.")


def _orphans(connection: Connection) -> str:
    """What SQLite says about references that lead nowhere; PostgreSQL refuses them itself."""
    if connection.dialect.name != "sqlite":
        return ""
    rows = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    return ", ".join(sorted({row[0] for row in rows}))


def _blank(session: Session, erasure: Erasure) -> None:
    """Take the texts out of the ledger's entries and the words out of the trail's events."""
    for seq, digest in erasure.entries:
        entry = update(LedgerEntry).where(LedgerEntry.seq == seq, LedgerEntry.digest == digest)
        session.execute(entry.values(**ledger.erased_row(seq)), execution_options=PLAINLY)
    blank = auditing.erased_row(datetime.fromisoformat(erasure.at))
    held, said = select(AuditNode.event_id, AuditNode.nodes), dict(erasure.events)
    for part in parts(sorted(said)):
        there = [
            name
            for name, nodes in session.execute(held.where(AuditNode.event_id.in_(part)))
            if said[name] == nodes[: ledger.HASH].hex()
        ]
        event = update(AuditEvent).where(AuditEvent.id.in_(there))
        session.execute(event.values(**blank), execution_options=PLAINLY)
