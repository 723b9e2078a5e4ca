"""What each row has to say by the statements: the mirrors read backwards.

A row has columns that its first statement fixes (`made_by`), columns that later statements may
change (`FIRST` says what they hold until then, `change_by` what they hold after), and columns
that no statement speaks of (`Unsaid`).
"""

import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache
from typing import Any

from sqlalchemy import Date

from gradebook.ledger.statements import Statement
from gradebook.records.mirrors import CHANGES, MADE, PARTS, Mirror
from gradebook.records.pen import ADOPTED
from gradebook.records.tables import Table
from gradebook.records.tables.columns import Moment
from gradebook.records.tables.lessons import ErrorMark, Grade, LessonRecord
from gradebook.records.tables.people import RoleGrant
from gradebook.records.tables.training import (
    CloseDecision,
    Enrolment,
    FiledEvent,
    StageApproval,
    Teaching,
)
from gradebook.records.timesheet import LINES
from gradebook.records.values import State

Columns = dict[str, Any]
KINDS = {line.field: line.kind for line in LINES}


@dataclass(frozen=True, slots=True)
class Unsaid:
    """A column of which no statement speaks; `instead` is what a row made anew holds."""

    instead: object


STATES: Mapping[str, State] = {
    "record.acknowledge": State.ACKNOWLEDGED,
    "record.disagree": State.ACKNOWLEDGED,
    "record.void": State.VOID,
}

FIRST: Mapping[type[Table], Columns] = {
    LessonRecord: {
        "state": State.SIGNED.value,
        "sequence": None,
        "digest": None,
        "acknowledged_at": None,
        "agrees": None,
        "comment": "",
        "voided_at": None,
        "void_reason": "",
    },
    Enrolment: {"ended_on": None, "ended_how": None},
    Teaching: {"until": None},
    StageApproval: {
        "approved_by": None,
        "approved_at": None,
        "checker_id": None,
        "reason": "",
        "not_independent": False,
        "record_id": None,
    },
    RoleGrant: {"revoked_at": None},
    FiledEvent: {},
    CloseDecision: {},
}
"""What later statements may change, as it is until then."""


@dataclass(frozen=True, slots=True)
class Made:
    """A row as its first statement made it, with the rows that hang on it."""

    table: type[Table]
    name: str
    columns: Columns
    parts: Mapping[type[Table], Sequence[Columns]] = field(default_factory=dict)


def made_by(statement: Statement) -> Made | None:
    """The row a statement made; None for a statement that makes none."""
    inverse = MADE.get(statement.type)
    if inverse is None:
        return None
    columns = _columns(inverse, statement)
    name = str(columns["id"])
    if inverse.table is not LessonRecord:
        return Made(inverse.table, name, columns)
    at = datetime.fromisoformat(statement.claimed_at)
    columns["times"] = _times(columns["times"])
    columns |= {"version": Unsaid(1), "created_at": Unsaid(at), "saved_at": Unsaid(at)}
    return Made(inverse.table, name, columns, dict(_parts(statement.body)))


def change_by(statement: Statement) -> tuple[type[Table], str, Columns] | None:
    """The row a statement says more of, and what; None for a statement of another kind."""
    inverse = CHANGES.get(statement.type)
    if inverse is None:
        return None
    columns = _columns(inverse, statement)
    if statement.type in STATES:
        columns["state"] = STATES[statement.type].value
    return inverse.table, str(columns.pop("id")), columns


def _columns(inverse: Mirror, statement: Statement) -> Columns:
    body, reads = statement.body, _readers(inverse.table)
    found = {name: _value(reads[name], body.get(said)) for name, said in inverse.said.items()}
    at, by = datetime.fromisoformat(statement.claimed_at), statement.actor
    adopted = statement.assurance == ADOPTED
    if inverse.at:
        found[inverse.at] = Unsaid(at) if adopted else at
    if inverse.by:
        found[inverse.by] = Unsaid(None) if adopted else by
    return found


@cache
def _readers(table: type[Table]) -> Mapping[str, Callable[[str], object]]:
    """How the text of each column is read."""
    return {
        column.name: datetime.fromisoformat
        if isinstance(column.type, Moment)
        else date.fromisoformat
        if isinstance(column.type, Date)
        else str
        for column in table.__table__.columns
    }


def _value(read: Callable[[str], object], said: object) -> object:
    """A value of the body as the column holds it; as it is when it cannot be read."""
    if not isinstance(said, str):
        return said
    try:
        return read(said)
    except ValueError:
        return said


def _times(said: object) -> object:
    """Minutes and counts as they are, miles as floats, what is ticked as true."""
    readers = {"nm": float, "yes": bool}
    if not isinstance(said, dict):
        return said
    return {
        name: readers.get(KINDS.get(name, ""), lambda value: value)(value)
        for name, value in said.items()
    }


def _parts(body: Mapping[str, Any]) -> Iterator[tuple[type[Table], list[Columns]]]:
    """The rows listed for a record, errors in the order of its card."""
    entries = (body.get("card") or {}).get("entries", ())
    marked = [(entry["task"], code) for entry in entries for code in entry["errors"]]
    order = {pair: place for place, pair in enumerate(marked)}
    for table, (said, names) in PARTS.items():
        rows = [{name: one.get(name) for name in names} for one in body.get(said) or ()]
        if table is Grade:
            rows = [{"place": place, **row} for place, row in enumerate(rows)]
        if table is ErrorMark:
            rows.sort(key=lambda row: order.get((row["task"], row["error"]), len(order)))
        yield table, rows


def same(one: object, other: object) -> bool:
    """Whether two values of a column say the same: true is not 1, text is compared in NFC."""
    if isinstance(one, str):
        return one == other or _composed(one) == _composed(other)
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, dict) and isinstance(other, dict):
        return _same_members(one, other)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    return one == other


def _same_members(one: dict[str, Any], other: dict[str, Any]) -> bool:
    if one.keys() != other.keys():
        one, other = ({_composed(name): held[name] for name in held} for held in (one, other))
    return one.keys() == other.keys() and all(same(one[name], other[name]) for name in one)


def _composed(value: Any) -> Any:  # noqa: ANN401 - any value of a column
    return unicodedata.normalize("NFC", value) if isinstance(value, str) else value
