"""Requests made by hand: ids of others in every address, fields nobody's form has."""

import re

import pytest
from sqlalchemy import select

from gradebook.records.tables import Table
from tests.permissions.cells import NONE, Asked, cells
from tests.permissions.doors import Doors, outcome, read_golden

TOKEN = re.compile(r"[\w-]+\.[\w-]+\.[\w-]{20,}")
EXTRA = {
    "actor": "flo",
    "actor_id": "flo",
    "id": "0" * 32,
    "role": "chief instructor",
    "grants": "administrator",
    "state": "acknowledged",
    "origin": "imported",
    "grade": "perform",
    "rank": "3",
    "student": "hal",
    "student_id": "hal",
    "enrolment_id": "hal",
    "instructor_id": "cleo",
    "person_id": "cleo",
    "recommended_by": "cleo",
    "approved_by": "cleo",
    "not_independent": "",
    "supersedes_id": "",
    "signed_at": "2020-01-01",
    "recorded_at": "2020-01-01",
    "digest": "0" * 64,
    "sequence": "1",
    "is_admin": "1",
}
"""What somebody might add to any form, hoping that it is taken."""
STRANGERS = ("student", "instructor", "check instructor")


@pytest.mark.parametrize("role", STRANGERS)
def test_the_id_of_a_stranger_answers_as_one_that_nobody_has(doors: Doors, role: str) -> None:
    """Pages, tables to download, charts: whatever takes an id."""
    looked = 0
    for asked in cells(doors.app):
        cell = asked.cell
        if (cell.role, cell.method, cell.relation) == (role, "GET", "stranger's"):
            theirs = doors.ask(asked)
            nobodys = doors.ask(
                Asked(cell._replace(relation=NONE), asked.rule, asked.converter, "")
            )
            assert outcome(theirs) in ("403", "404"), cell
            assert said(theirs.text) == said(nobodys.text), cell
            looked += 1
    assert looked >= 30


def said(page: str) -> str:
    """A page without what differs at every look: its address and its token."""
    return TOKEN.sub("", re.sub(r"[0-9a-f]{32}", "", page))


def contents(doors: Doors) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table, but for what the moment makes: ids, hashes, random values."""
    found = {}
    with doors.school.database.read() as session:
        for table in Table.metadata.sorted_tables:
            columns = [one for one in table.columns if one.name in PLAIN]
            if columns:
                rows = session.execute(select(*columns))
                found[table.name] = sorted(tuple(map(str, row)) for row in rows)
    return found  # type: ignore[return-value]


PLAIN = (
    *("state", "origin", "kind", "lesson", "attempt", "student_id", "instructor_id"),
    *("course", "principal", "role", "active", "email", "name", "level", "rank", "meets"),
    *("stage", "recommended_by", "approved_by", "checker_id", "not_independent", "reason"),
    *("outcome", "version", "agrees", "decided_by", "filed_by", "certificate", "made_by"),
    *("asked_by", "confirmed", "signed_at", "voided_at", "actor_id", "action", "seq"),
)


def test_fields_that_no_form_has_change_nothing(doors: Doors) -> None:
    """Each form that is taken writes the same rows with the fields and without."""
    golden, taken = read_golden(), set()
    for asked in cells(doors.app):
        cell = asked.cell
        if cell.method == "GET" or golden.get(cell) != "yes" or cell.endpoint in taken:
            continue
        plain, more = written(doors, asked, {}), written(doors, asked, EXTRA)
        assert plain[0] == more[0], cell
        differing = [name for name in plain[1] if plain[1][name] != more[1][name]]
        assert not differing, cell
        taken.add(cell.endpoint)
    assert len(taken) >= 30


def written(
    doors: Doors, asked: Asked, extra: dict[str, str]
) -> tuple[str, dict[str, list[tuple[object, ...]]]]:
    """The outcome of a form with further fields, and what stands in the tables then."""
    if doors.noted:  # the trail keeps refusals of before
        doors.restore()
    kept: list[dict[str, list[tuple[object, ...]]]] = []
    answer = doors.ask(asked, looking=lambda: kept.append(contents(doors)), **extra)
    return outcome(answer), kept[0] if kept else {}
