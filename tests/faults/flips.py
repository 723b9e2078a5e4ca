"""The drill of the flipped bit: the proof sees every flip that changes what was kept."""

import shutil
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from sqlalchemy import create_engine
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

from gradebook.records.commands import answering
from gradebook.records.database import sqlite
from gradebook.records.store import proof
from gradebook.records.tables import Table
from tests.cast import close_school
from tests.faults.drillschool import DrillSchool
from tests.faults.writer import Writer

SIGNED = 8
KEPT: Mapping[str, frozenset[str]] = {
    "ledger_entry": frozenset(),
    "audit_node": frozenset(),
    "audit_event": frozenset(),
    "ledger_checkpoint": frozenset({"issued_at"}),
    "lesson_record": frozenset(
        {"version", "created_at", "saved_at", "signed_at", "acknowledged_at", "voided_at"}
    ),
    "grade": frozenset({"id", "place"}),
    "error_mark": frozenset({"id"}),
    "reading_taken": frozenset({"id"}),
    "enrolment": frozenset({"created_at"}),
    "teaching": frozenset(),
    "filed_event": frozenset({"filed_by", "filed_at"}),
    "stage_approval": frozenset({"recommended_at", "approved_at", "record_id"}),
    "close_decision": frozenset({"decided_by", "decided_at"}),
    "role_grant": frozenset({"granted_at", "granted_by"}),
}
"""What is kept for good, and the columns of it that repeat when or by whom an entry was made,
or only serve the program: the ledger says those itself. Of a grade's place the order is kept,
not the number."""


@dataclass(slots=True)
class Flips:
    """How many bits were flipped, how many of them changed what is kept, which went unseen.

    `besides` were seen although every row still reads the same: a damaged index, say.
    """

    flipped: int = 0
    changing: int = 0
    missed: int = 0
    besides: int = 0
    words: list[str] = field(default_factory=list)

    @property
    def clean(self) -> bool:
        """Whether every change was seen."""
        return not self.missed


def a_school(data: Path) -> tuple[Path, str]:
    """A school with signed and answered records and one void, in one closed file."""
    made = DrillSchool(data)
    writer = Writer(made.school.database)
    for draft in made.drafts("teacher0", SIGNED):
        writer.sign(draft.record, draft.version)
    with made.school.database.write() as session:
        void = answering.Void(draft.record, "Wrong student.")
        answering.void_record(made.school.act(session, "teacher0"), void)
    vkey = made.vkey
    close_school(made.school)
    return data / "windtee.db", vkey


def _content(file: Path) -> dict[str, Any] | str:
    """Every row that is kept for good, as raw values; the fault where they cannot be read."""
    try:
        with closing(sqlite.connect(f"file:{file}?mode=ro", uri=True)) as connection:
            connection.text_factory = bytes
            return {name: _rows(connection, name) for name in KEPT}
    except (sqlite.Error, UnicodeDecodeError) as fault:
        return str(fault)


def _rows(connection: Any, table: str) -> list[tuple[Any, ...]]:
    names = [one.name for one in Table.metadata.tables[table].columns]
    wanted = ", ".join(name for name in names if name not in KEPT[table])
    rows = connection.execute(f"SELECT {wanted} FROM {table}").fetchall()  # noqa: S608
    return sorted(rows, key=repr)


def is_seen(file: Path, vkey: str) -> bool:
    """Whether the proof finds anything, or cannot even read; the file is opened to read."""
    engine = create_engine(f"sqlite:///file:{file}?mode=ro&uri=true", module=sqlite)
    try:
        with Session(engine) as session:
            return bool(proof.prove(session, vkey).findings)
    except (SQLAlchemyError, sqlite.Error, ValueError, TypeError, LookupError, AttributeError):
        return True
    finally:
        engine.dispose()


def flipping(data: Path, number: int, seed: int = 1) -> Flips:
    """Flip so many single bits, each in a fresh copy of one school's file."""
    file, vkey = a_school(data)
    whole, before = file.read_bytes(), _content(file)
    found, random = Flips(), Random(seed)  # noqa: S311 - dice of a drill
    assert not is_seen(file, vkey)
    spoilt = data / "spoilt.db"
    shutil.copy(file, spoilt)
    for _ in range(number):
        place = random.randrange(len(whole))
        held = bytearray(whole)
        held[place] ^= 1 << random.randrange(8)
        spoilt.write_bytes(held)
        _judge(found, spoilt, vkey, _content(spoilt), before, place)
    return found


def _judge(found: Flips, file: Path, vkey: str, after: Any, before: Any, place: int) -> None:
    changes, seen = after != before, is_seen(file, vkey)
    found.flipped += 1
    found.changing += changes
    found.besides += seen and not changes
    if changes and not seen:
        found.missed += 1
        found.words.append(f"byte {place}: {_difference(before, after)}")


def _difference(before: Any, after: Any) -> str:
    if isinstance(after, str):
        return after
    tables = [name for name in before if before[name] != after[name]]
    pairs = [
        (name, one, other)
        for name in tables
        for row, changed in zip(before[name], after[name], strict=False)
        for one, other in zip(row, changed, strict=False)
        if one != other
    ]
    return repr(pairs[:1])[:300]
