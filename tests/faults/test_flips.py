"""One bit that changes what was kept is seen by the proof, wherever in the file it lies."""

from contextlib import closing
from pathlib import Path

import pytest

from gradebook.records.database import sqlite
from gradebook.records.store import people, proof
from tests.cast import TestSchool
from tests.faults.flips import a_school, flipping, is_seen


def test_every_flipped_bit_that_changes_something_is_seen(tmp_path: Path) -> None:
    found = flipping(tmp_path, number=200)
    assert found.clean, found
    assert found.changing >= 20


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("kind", "record.void"),
        ("actor_id", None),
        ("enrolment_id", "0" * 32),
        ("digest", "0" * 64),
        ("prev", "0" * 64),
        ("statement_id", "00000000-0000-4000-8000-000000000000"),
        ("recorded_at", "2020-01-01 00:00:00.000000"),
    ],
)
def test_an_entry_filed_under_something_else_is_seen(
    school: TestSchool, column: str, value: str | None
) -> None:
    with school.database.engine.connect() as connection:
        raw = connection.connection.dbapi_connection
        raw.set_authorizer(None)
        triggers = raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        for (name,) in triggers.fetchall():
            raw.execute(f'DROP TRIGGER "{name}"')
        last = "(SELECT max(seq) FROM ledger_entry)"
        change = f"UPDATE ledger_entry SET {column} = ? WHERE seq = {last}"  # noqa: S608
        raw.execute(change, [value])
        raw.commit()
    with school.database.read() as session:
        known = people.school(session)
        findings = proof.prove(session, known.vkey).findings
    assert [one.words for one in findings if "filed under" in one.words]


def test_a_row_that_its_index_does_not_know_is_seen(tmp_path: Path) -> None:
    file, vkey = a_school(tmp_path)
    held = file.read_bytes()
    with closing(sqlite.connect(file)) as connection:
        first = connection.execute("SELECT id, record_id FROM grade").fetchone()
    place = held.index("".join(first).encode()) + 32  # where the row names its record
    file.write_bytes(held[:place] + b"g" + held[place + 1 :])
    assert is_seen(file, vkey)
