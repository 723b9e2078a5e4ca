"""Killed in the middle: a backup leaves no half file, an upgrade no half schema."""

import os
import random
import shutil
from pathlib import Path

import pytest
from sqlalchemy import text

from gradebook.records import guards, schema
from gradebook.records.database import migrating, open_engine
from gradebook.records.keeping import archive, backup
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tally import Tally, lost, tally
from tests.cast import TestSchool, close_school, open_school
from tests.early import go_back
from tests.postgres import Cluster
from tests.records.keeping.cutting import Cut, cut_down
from tests.walks.test_main_job import sign_first_lesson

FIRST = "20261125_begin"
LOSES = {"lesson_record.statement", "lesson_record.previous"}
"""What a migration since says it takes away: the ledger keeps it."""
MOMENTS = int(os.environ.get("WINDTEE_CUTS", "12"))
"""How many random moments an upgrade is cut at, beside every statement it runs."""


def old_school(data: Path, url: str | None = None) -> tuple[str, Tally]:
    """A database of the first released schema, without guards, with records in it."""
    data.mkdir()
    school = open_school(data, url)
    sign_first_lesson(school)
    with school.database.write() as session:
        at = school.clock.at
        session.add_all(AuditEvent(at=at, action="tested", facts={"n": n}) for n in range(500))
    go_back(school.database.engine, FIRST, school.settings.data)
    with migrating(school.database.engine) as connection, connection.begin():
        guards.remove(connection)
        held = tally(connection)
    close_school(school)
    return school.settings.database, held


def check_whole(url: str, held: Tally) -> str:
    """Old or new, never mixed, with every row; brought to the newest by one more upgrade."""
    engine = open_engine(url)
    with engine.connect() as connection:
        revision = schema.revision_of(connection)
        now = tally(connection)
        gone = guards.missing(connection)
    assert lost(held, now, LOSES) == []
    if revision == FIRST:
        assert now == held
    else:
        assert (revision, gone) == (schema.newest(), [])
        assert "needle_state" in now.rows
    schema.upgrade(engine)
    schema.check(engine)
    with engine.connect() as connection:
        assert lost(held, tally(connection), LOSES) == []
    engine.dispose()
    return str(revision)


def cuts() -> list[Cut]:
    """Before every ninth statement of an upgrade, and at random moments of its course."""
    chance = random.Random(20261125)  # noqa: S311 - a sample
    at_random: list[Cut] = [("seconds", chance.uniform(0.001, 0.2)) for _ in range(MOMENTS)]
    return [*at_random, *(("statement", n) for n in range(1, 170, 9)), None]


def test_an_upgrade_that_is_killed_leaves_the_old_schema_or_the_new(tmp_path: Path) -> None:
    _, held = old_school(tmp_path / "old")
    wanted = []
    for number, cut in enumerate(cuts()):
        data = tmp_path / f"copy{number}"
        shutil.copytree(tmp_path / "old", data)
        wanted.append(("upgrade", data, f"sqlite:///{data}/windtee.db", cut))
    ended = cut_down(wanted)
    found = [check_whole(url, held) for _, _, url, _ in wanted]
    assert -9 in ended
    assert -14 in ended
    assert {FIRST, schema.newest()} == set(found)
    assert found[-1] == schema.newest()


def test_an_upgrade_of_postgresql_that_is_killed_leaves_the_old_schema_or_the_new(
    tmp_path: Path, postgres_cluster: Cluster
) -> None:
    with postgres_cluster.fresh_database() as url:
        _, held = old_school(tmp_path / "old", url)
        name = url.rsplit("/", 1)[1]
        every = cuts()[::2]
        copies = [f"{name}_{number}" for number in range(len(every))]
        for copy in copies:
            postgres_cluster.execute(f"CREATE DATABASE {copy} TEMPLATE {name}")
        wanted = [
            ("upgrade", tmp_path, postgres_cluster.url(copy), cut)
            for copy, cut in zip(copies, every, strict=True)
        ]
        ended = cut_down(wanted)
        found = [check_whole(address, held) for _, _, address, _ in wanted]
        for copy in copies:
            postgres_cluster.execute(f"DROP DATABASE {copy} WITH (FORCE)")
    assert -9 in ended
    assert FIRST in found


def test_a_killed_backup_leaves_no_half_file(school: TestSchool) -> None:
    data, url = school.settings.data, school.settings.database
    ended = cut_down([("backup", data, url, ("seconds", n * 0.002)) for n in range(1, 41)])
    folder = backup.folder_in(data)
    for number, file in enumerate(backup.backups_in(folder)):
        (data / f"{number}").mkdir()
        archive.unpack(file, data / f"{number}")
    assert -14 in ended
    made = backup.back_up(school.settings, school.database, backup.Wanted(folder))
    assert [path.name for path in folder.iterdir() if path.name.startswith(".")] == []
    assert made in backup.backups_in(folder)


@pytest.mark.parametrize("room", [8_000, 100_000])
def test_a_full_disk_is_told_and_nothing_is_left(school: TestSchool, room: int) -> None:
    data, url = school.settings.data, school.settings.database
    (data / "cookie.key").write_text("key")
    assert cut_down([("backup", data, url, ("bytes", room))]) == [3]
    assert list(backup.folder_in(data).iterdir()) == []
    with school.database.read() as session:
        assert session.execute(text("SELECT count(*) FROM school")).scalar() == 1
