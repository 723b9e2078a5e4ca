"""Holding the rows that screens read against what the statements say of them."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

from sqlalchemy import RowMapping, Select, select
from sqlalchemy import Table as Columnar
from sqlalchemy.orm import Session

from gradebook.records import rebuilding
from gradebook.records.mirrors import PARTS
from gradebook.records.projection import Projection
from gradebook.records.rebuilding import FIRST, Columns, Made, Unsaid
from gradebook.records.tables import Table
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.values import State

CHUNK = 200
SINGLE = frozenset((str, int, bool))
"""Values that are the same when they are equal, without a closer look."""
Found = Mapping[str, Any] | RowMapping
"""A row as it is stored, by column."""


@dataclass(frozen=True, slots=True)
class Difference:
    """A row that is not as the statements say.

    `seq` is the entry that made it, None for a row that no statement made; `columns` are those
    that differ, each as stored and as stated: none of them when the row is not there. The rows
    that hang on a record count as columns `grades`, `errors` and `readings`.
    """

    table: type[Table]
    name: str
    seq: int | None
    columns: Mapping[str, tuple[object, object]]


def rows_of(table: type[Table]) -> Columnar:
    """The table behind a class, to be read without making objects."""
    return cast(Columnar, table.__table__)


def against_made(session: Session, made: Iterable[tuple[int, Made]]) -> Iterator[Difference]:
    """What differs of the rows that these entries made, in what their making fixed."""
    groups: dict[type[Table], list[tuple[int, Made]]] = defaultdict(list)
    for seq, one in made:
        groups[one.table].append((seq, one))
    for table, members in groups.items():
        names = [one.name for _, one in members]
        found = _stored(session, table, names)
        parts = parts_of(session, names) if table is LessonRecord else {}
        for seq, one in members:
            row = found.get(one.name)
            if row is None:
                yield Difference(table, one.name, seq, {})
            elif differing := {
                **_differing(row, one.columns),
                **_parts_differing(parts.get(one.name, {}), one),
            }:
                yield Difference(table, one.name, seq, differing)


def _stored(session: Session, table: type[Table], names: Sequence[str]) -> dict[str, Found]:
    rows = rows_of(table)
    query = select(rows).where(rows.c.id.in_(names))
    return {row["id"]: row for row in _read(session, query)}


def _read(session: Session, query: Select[Any]) -> Iterator[Found]:
    """Rows as plain dicts, whose columns are looked up many times."""
    found = session.execute(query)
    names = list(found.keys())
    yield from (dict(zip(names, row, strict=True)) for row in found)


def parts_of(
    session: Session, names: Sequence[str]
) -> dict[str, dict[type[Table], list[Found]]]:
    """The rows that hang on these lesson records, by record and table."""
    found: dict[str, dict[type[Table], list[Found]]] = {name: {} for name in names}
    for table in PARTS:
        rows = rows_of(table)
        query = select(rows).where(rows.c.record_id.in_(names))
        for row in _read(session, query):
            found[row["record_id"]].setdefault(table, []).append(row)
    return found


def _differing(row: Found, said: Columns) -> dict[str, tuple[object, object]]:
    differing: dict[str, tuple[object, object]] = {}
    for name, value in said.items():
        held = row[name]
        equal = held is value or (type(held) is type(value) in SINGLE and held == value)
        if not (equal or isinstance(value, Unsaid) or rebuilding.same(held, value)):
            differing[name] = (held, value)
    return differing


def _parts_differing(
    stored: Mapping[type[Table], Sequence[Found]], made: Made
) -> dict[str, tuple[object, object]]:
    found: dict[str, tuple[object, object]] = {}
    for table, stated in made.parts.items():
        there = stored.get(table, ())
        if any(unmatched(there, stated)):
            found[PARTS[table][0]] = (len(there), len(stated))
    return found


def unmatched(
    there: Sequence[Found], stated: Sequence[Columns]
) -> tuple[list[Found], list[Columns]]:
    """Stored rows that no stated one equals, and stated ones that no stored one equals."""
    rest, lacking = list(there), []
    for said in stated:
        equal = (place for place, row in enumerate(rest) if not _differing(row, said))
        place = next(equal, None)
        if place is None:
            lacking.append(said)
        else:
            del rest[place]
    return rest, lacking


def against_later(session: Session, projection: Projection) -> Iterator[Difference]:
    """What differs in columns that later statements change, and rows that no statement made."""
    for table, first in FIRST.items():
        rows = rows_of(table)
        query = select(rows.c.id, *(rows.c[name] for name in first))
        loose = list[str]()
        for row in session.execute(query.execution_options(yield_per=500)).mappings():
            standing = projection.rows[table].get(row["id"])
            if standing is None:
                loose.append(row["id"])
                if row.get("state") != State.DRAFT:
                    yield Difference(table, row["id"], None, {})
            elif differing := _differing(row, projection.later(table, row["id"])):
                yield Difference(table, row["id"], standing.seq, differing)
        if table is LessonRecord:
            yield from _hanging(session, loose)


def _hanging(session: Session, records: Sequence[str]) -> Iterator[Difference]:
    """Rows that hang on records nobody signed: a draft's card holds all there is of it."""
    for table in PARTS:
        rows = rows_of(table)
        for start in range(0, len(records), CHUNK):
            few = records[start : start + CHUNK]
            query = select(rows.c.id).where(rows.c.record_id.in_(few)).order_by(rows.c.id)
            for name in session.scalars(query):
                yield Difference(table, name, None, {})
