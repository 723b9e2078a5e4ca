"""Single rows written as the ledger has them, guards away; `rebuilding` decides which."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import zip_longest

from sqlalchemy import delete, insert, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from gradebook import clock
from gradebook.ledger.statements import read_statement
from gradebook.records.projection import Projection
from gradebook.records.rebuilding import Columns, Made, Unsaid, made_by
from gradebook.records.store import ledger, projected
from gradebook.records.store.projected import Difference, Found, rows_of
from gradebook.records.tables import Table
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.needle import NeedleForecast, NeedleState
from gradebook.records.tables.training import Enrolment

ASIDE = -(10**9)
"""Where the places of records go while they are sorted out."""


class LackingError(Exception):
    """A row cannot be put back, since something it refers to is not there."""


@dataclass(frozen=True, slots=True)
class Removed:
    """A row that no statement made, as it was, in plain values."""

    table: type[Table]
    name: str
    row: Columns


def as_it_is(session: Session, one: Difference) -> Removed:
    """A row in plain values, before anything happens to it."""
    rows = rows_of(one.table)
    found = session.execute(select(rows).where(rows.c.id == one.name)).mappings().one()
    return _removed(one.table, found)


def _removed(table: type[Table], row: Found) -> Removed:
    return Removed(table, row["id"], {name: _plain(value) for name, value in row.items()})


def _plain(value: object) -> object:
    if isinstance(value, datetime):
        return clock.zulu(value)
    return value.isoformat() if isinstance(value, date) else value


def remove(session: Session, rows: Sequence[Removed]) -> list[Removed]:
    """Remove rows that no statement made; gives back those to which others still refer."""
    left = [one for one in rows if not _is_gone(session, one)]
    return left if not left or len(left) == len(rows) else remove(session, left)


def _is_gone(session: Session, one: Removed) -> bool:
    rows = rows_of(one.table)
    try:
        with session.begin_nested():
            if one.table is LessonRecord:
                session.execute(delete(NeedleForecast).filter_by(record_id=one.name))
            if one.table is Enrolment:
                session.execute(delete(NeedleState).filter_by(enrolment_id=one.name))
            session.execute(delete(rows).where(rows.c.id == one.name))
    except IntegrityError:
        return False
    return True


def make_room(session: Session, wrong: Iterable[Difference]) -> None:
    """Let no wrong row stand where another belongs: places and enrolments are unique."""
    for one in wrong:
        if "sequence" in one.columns:
            aside = update(LessonRecord).where(
                LessonRecord.id == one.name, LessonRecord.sequence.is_not(None)
            )
            session.execute(aside.values(sequence=ASIDE - (one.seq or 0)))
        if one.table is Enrolment and one.columns:
            apart = update(Enrolment).where(Enrolment.id == one.name)
            session.execute(apart.values(course=one.name))


def put_back(session: Session, projection: Projection, one: Difference) -> list[Removed]:
    """Write a row, and what hangs on it, as its statements say; what hung on it without.

    LackingError when an account or a revision that it names is not there.
    """
    entry = ledger.at(session, one.seq or 0)
    made = made_by(read_statement(entry.statement)) if entry else None
    if made is None:
        raise RuntimeError(f"entry {one.seq} made no row")
    columns = {**made.columns, **projection.later(one.table, one.name)}
    rows = rows_of(one.table)
    try:
        if one.columns:
            session.execute(update(rows).where(rows.c.id == one.name).values(_said(columns)))
        else:
            session.execute(insert(rows).values(_whole(columns)))
    except IntegrityError as fault:
        raise LackingError(
            f"Entry {one.seq}: {rows.name} {one.name} cannot be put back, for an account or a "
            "revision that it names is not there. Nothing was changed."
        ) from fault
    return list(_put_back_parts(session, made))


def _said(columns: Columns) -> Columns:
    return {name: value for name, value in columns.items() if not isinstance(value, Unsaid)}


def _whole(columns: Columns) -> Columns:
    return {
        name: value.instead if isinstance(value, Unsaid) else value
        for name, value in columns.items()
    }


def _put_back_parts(session: Session, made: Made) -> Iterator[Removed]:
    """Rows that are right stay; others get what is lacking, the rest goes or is added."""
    there = projected.parts_of(session, [made.name])[made.name] if made.parts else {}
    for table, stated in made.parts.items():
        rows = rows_of(table)
        for row, said in zip_longest(*projected.unmatched(there.get(table, []), stated)):
            if row is None:
                session.execute(insert(rows).values(record_id=made.name, **said))
            elif said is None:
                session.execute(delete(rows).where(rows.c.id == row["id"]))
                yield _removed(table, row)
            else:
                session.execute(update(rows).where(rows.c.id == row["id"]).values(said))
