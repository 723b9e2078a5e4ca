"""The main pages of a school of several years: `python -m tests.bench.years`.

Every student of the demo is copied with all that is on record of them: some copies as they are,
the others one to six years back, their training ended. Then each main page is opened by whom it
is for, in this process (no server, no browser): once, and again when this process remembers who
stands where. The base: a plain SELECT of those grades. Entries of the ledger are copied so that
there are as many; they prove nothing. The audit trail is the demo's own.
"""

import argparse
import hashlib
import json
import logging
import os
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from flask import Flask
from sqlalchemy import Connection, Engine, Table, func, insert, select

from gradebook.app import create_app
from gradebook.demo import loading
from gradebook.demo_accounts import SECRET
from gradebook.records import guards
from gradebook.records.database import migrating, open_engine
from gradebook.records.tables.columns import Table as Mapped
from gradebook.records.tables.lessons import Grade, LessonRecord
from gradebook.records.tables.people import Person
from gradebook.records.tables.training import Enrolment
from gradebook.settings import settings_in
from tests.bench.measuring import Time, plainly, summed_up, timed
from tests.bench.places import ACCOUNTS, Screen
from tests.cast import Visitor
from tests.counting import asked

YEARS, COPIES, CURRENT, RUNS, TRAINING = 6, 19, 3, 3, timedelta(days=300)
OWNED = {
    "person_id": "role_grant",
    "student_id": "enrolment",
    "enrolment_id": "lesson_record teaching needle_state self_grade filed_event stage_approval "
    "close_decision ledger_entry",
    "record_id": "grade error_mark reading_taken needle_forecast",
}
"""What goes with a student: the column that says whose a row is, and the tables with it."""
Row = Mapping[str, Any]
HEADS = "first", "seconds", "fastest", "CPU s", "kB", "asked", "x base", "load"


@dataclass(frozen=True, slots=True)
class Opened:
    """A page: how long it took at first and then, its kB, its statements, times the base."""

    name: str
    path: str
    first: float
    time: Time
    kb: float
    statements: int
    ratio: float
    load: float


def grow(engine: Engine, copies: int, current: int) -> None:
    """Copy every student so many times, `current` times of today and then years back."""
    with migrating(engine) as connection, connection.begin():
        guards.remove(connection)
        rows, ids = _training(connection)
        for number in range(1, copies + 1):
            years = 0 if number <= current else 1 + (number - current - 1) % YEARS
            for table in (one for one in rows if rows[one]):
                copied = [_copy(row, ids, number, years) for row in rows[table]]
                connection.execute(insert(table), copied)
        guards.install(connection)


def _training(connection: Connection) -> tuple[dict[Table, list[Row]], set[str]]:
    """Every student's rows, by table, and every id among them."""
    people = Mapped.metadata.tables["person"]
    students = people.c.id.in_(select(Enrolment.student_id))
    rows = {people: list(connection.execute(select(people).where(students)).mappings())}
    ids = {row["id"] for row in rows[people]}
    for owner, name in ((one, name) for one, names in OWNED.items() for name in names.split()):
        table = Mapped.metadata.tables[name]
        before = [column for column in table.c if column.name == "created_at"]
        every = connection.execute(select(table).order_by(*before)).mappings()
        rows[table] = [row for row in every if row[owner] in ids]
        ids.update(row["id"] for row in rows[table] if "id" in row)
    return rows, ids


def _copy(row: Row, ids: set[str], number: int, years: int) -> dict[str, Any]:
    found = {name: _again(value, ids, number, years) for name, value in row.items()}
    if found.get("email"):
        found.update(name=f"{row['name']} {number}", email=f"{number}.{row['email']}")
    for place in ("sequence", "seq"):
        if found.get(place):
            found[place] += 100_000 * number
    if "leaf" in row:
        leaf = hashlib.sha256(f"{row['leaf']}/{number}".encode()).hexdigest()
        found.update(leaf=leaf, statement_id=leaf[:32])
    if years and "ended_on" in row and row["ended_on"] is None:
        found.update(ended_on=found["enrolled_on"] + TRAINING, ended_how="graduated")
    return found


def _again(value: object, ids: set[str], number: int, years: int) -> object:
    """A value of a copy: another id, an earlier day, or what it is."""
    if isinstance(value, str) and value in ids:
        return hashlib.sha256(f"{value}/{number}".encode()).hexdigest()[:32]
    if isinstance(value, date):
        day = min(value.day, 28) if value.month == 2 else value.day
        return value.replace(year=value.year - years, day=day)
    return value


def pages(app: Flask) -> Iterator[Screen]:
    """The main pages of the demo, each with whom it is for."""
    with app.extensions["windtee"].database.read() as session:
        wanted = Person.email == ACCOUNTS["student"]
        found = session.scalars(select(Enrolment.id).join(Person).where(wanted)).first()
    home = f"/students/{found}"
    for role in ("instructor", "student", "chief instructor"):
        yield Screen(f"home, {role}", ACCOUNTS[role], "/")
    yield Screen("students", ACCOUNTS["chief instructor"], "/students")
    yield Screen("readiness", ACCOUNTS["chief instructor"], "/readiness")
    for part in ("", "/instructors", "/progress", "/forecasts"):
        yield Screen(
            f"school watch {part}".strip(), ACCOUNTS["chief instructor"], f"/school{part}"
        )
    yield Screen("student's page", ACCOUNTS["chief instructor"], home)
    yield Screen("student's cohort", ACCOUNTS["student"], f"{home}/cohort")
    yield Screen("record audit", ACCOUNTS["auditor"], "/audit")
    yield Screen("ledger", ACCOUNTS["auditor"], "/ledger")
    yield Screen("people", ACCOUNTS["administrator"], "/people")
    yield Screen("retention", ACCOUNTS["administrator"], "/retention")


def opening(app: Flask, wanted: list[Screen], secret: str, runs: int) -> Iterator[Opened]:
    """Open every page so many times, after once to warm up."""
    engine = app.extensions["windtee"].database.engine
    with engine.connect() as plain:
        base = plainly(1, lambda: plain.execute(select(Grade.__table__)).all(), runs).seconds
    for one in wanted:
        browser = Visitor(app.test_client())
        browser.get("/sign-in")
        browser.post("/sign-in", email=one.email, secret=secret)
        with asked(engine) as sent:
            first, _ = timed(lambda: browser.get(one.path))  # noqa: B023
        text = browser.get(one.path)
        taken = summed_up([timed(lambda: browser.get(one.path)) for _ in range(runs)])  # noqa: B023
        sizes = len(text.encode()) / 1000, len(sent), taken.seconds / base
        yield Opened(one.name, one.path, first, taken, *sizes, os.getloadavg()[0])


def size(app: Flask) -> dict[str, int]:
    """How many enrolments, lesson records and grades there are."""
    tables = Enrolment, LessonRecord, Grade
    with app.extensions["windtee"].database.read() as session:
        count = [session.scalar(select(func.count()).select_from(one)) for one in tables]
    return {one.__tablename__: n or 0 for one, n in zip(tables, count, strict=True)}


def main(words: Sequence[str] | None = None) -> int:
    """Make the school and open its pages; 0 whatever comes of it."""
    parser = argparse.ArgumentParser("python -m tests.bench.years", description=__doc__)
    parser.add_argument("--copies", type=int, default=COPIES, help="of every student (19)")
    parser.add_argument("--current", type=int, default=CURRENT, help="of them of today (3)")
    parser.add_argument("--runs", type=int, default=RUNS, help="openings of each page (3)")
    parser.add_argument("--data", type=Path, help="a folder to keep the school in")
    parser.add_argument("--json", action="store_true", help="print JSON")
    chosen = parser.parse_args(words)
    logging.disable(logging.CRITICAL)
    with TemporaryDirectory() as folder:
        settings = settings_in(chosen.data or Path(folder), demo=True)
        loading.load(settings)
        grow(open_engine(settings.database), chosen.copies, chosen.current)
        app = create_app(settings)
        found, of = list(opening(app, list(pages(app)), SECRET, chosen.runs)), size(app)
    told = _json if chosen.json else _table
    sys.stdout.writelines(f"{line}\n" for line in told(found, of))
    return 0


def _json(found: Sequence[Opened], of: Mapping[str, int]) -> Iterator[str]:
    yield json.dumps({"school": of, "pages": [asdict(one) for one in found]}, indent=2)


def _table(found: Sequence[Opened], of: Mapping[str, int]) -> Iterator[str]:
    width = max(len(one.name) for one in found)
    yield " " * width + "".join(f"{head:>10}" for head in HEADS)
    for one in found:
        took = (
            f"{each:.2f}"
            for each in (one.first, one.time.seconds, one.time.fastest, one.time.cpu)
        )
        rest = f"{one.kb:.1f}", str(one.statements), f"{one.ratio:.1f}", f"{one.load:.1f}"
        yield f"{one.name:<{width}}" + "".join(f"{cell:>10}" for cell in (*took, *rest))
    yield ", ".join(f"{name} {number}" for name, number in of.items())


if __name__ == "__main__":
    sys.exit(main())
