"""Backups: whole or not there, refused when altered, equal row by row when restored."""

import os
import random
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import inspect, literal_column, select, table, text

from gradebook.cli import main
from gradebook.records.database import Database, open_engine
from gradebook.records.guards import GUARDS
from gradebook.records.keeping import archive, backup, restore
from gradebook.records.keeping.manifest import BackupError
from gradebook.records.schema import check
from tests.cast import TestSchool, close_school, open_school
from tests.postgres import Cluster
from tests.walks.test_main_job import sign_first_lesson

FLIPS = int(os.environ.get("WINDTEE_FLIPS", "300"))
"""How many damaged copies are tried; the goal of 2,000 is measured with WINDTEE_FLIPS=2000."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestSchool, Path]]:
    """A school with a signed record, and its backup."""
    school = open_school(tmp_path_factory.mktemp("school"))
    sign_first_lesson(school)
    yield school, back_up(school)
    close_school(school)


def back_up(school: TestSchool, **more: object) -> Path:
    folder = backup.folder_in(school.settings.data)
    wanted = replace(backup.Wanted(folder), **more)
    return backup.back_up(school.settings, school.database, wanted)


def rows(database: Database) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table but the trail and its tree, as text."""
    with database.engine.connect() as connection:
        names = sorted(
            set(inspect(connection).get_table_names()) - {"audit_event", "audit_node"}
        )
        return {
            name: sorted(
                tuple(map(str, row))
                for row in connection.execute(
                    select(literal_column("*")).select_from(table(name))
                )
            )
            for name in names
        }


def test_a_restored_school_is_equal_row_by_row(
    either_school: TestSchool, tmp_path: Path, postgres_cluster: Cluster
) -> None:
    sign_first_lesson(either_school)
    file, before = back_up(either_school), rows(either_school.database)
    assert sum(map(len, before.values())) > 30
    data = tmp_path / "restored"
    postgres = either_school.database.engine.dialect.name == "postgresql"
    if not postgres:
        check_restored(
            either_school, restore.Wanted(file, data), f"sqlite:///{data}/windtee.db"
        )
        return
    with postgres_cluster.fresh_database() as url:
        check_restored(either_school, restore.Wanted(file, data, url), url)


def check_restored(school: TestSchool, wanted: restore.Wanted, url: str) -> None:
    found = restore.restore(wanted, school.clock)
    assert (found.code, found.altered) == (0, [])
    engine = open_engine(url)
    check(engine)
    assert rows(Database(engine)) == rows(school.database)
    with engine.connect() as connection:
        newest = "SELECT action FROM audit_event ORDER BY id DESC LIMIT 1"
        assert connection.execute(text(newest)).scalar() == "system:restore"
    engine.dispose()
    assert wanted.data.stat().st_mode & 0o077 == 0


def test_a_restored_school_can_be_signed_in_to(
    made: tuple[TestSchool, Path], tmp_path: Path
) -> None:
    restore.restore(restore.Wanted(made[1], tmp_path / "again"), made[0].clock)
    assert main(["verify", "--data", str(tmp_path / "again")]) == 0


def contents(file: Path, folder: Path) -> dict[str, bytes] | None:
    """What a backup unpacks to; None when it is refused."""
    folder.mkdir()
    try:
        archive.unpack(file, folder)
    except BackupError:
        return None
    return {path.name: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_damage_is_refused_wherever_it_changes_content(
    made: tuple[TestSchool, Path], tmp_path: Path
) -> None:
    whole, chance = made[1].read_bytes(), random.Random(20261125)  # noqa: S311 - a sample
    as_made = contents(made[1], tmp_path / "whole")
    assert as_made
    damaged, refused = tmp_path / "damaged", 0
    for number in range(FLIPS):
        bytes_ = bytearray(whole)
        if number % 4 == 0:
            del bytes_[chance.randrange(len(bytes_)) :]
        else:
            at = chance.randrange(64) if number % 4 == 1 else chance.randrange(len(bytes_))
            bytes_[at] ^= 1 << chance.randrange(8)
        damaged.write_bytes(bytes_)
        found = contents(damaged, tmp_path / f"try{number}")
        assert found in (None, as_made), number
        refused += found is None
    assert refused > FLIPS * 0.9


def test_something_else_is_not_taken_for_a_backup(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.write_bytes(b"a letter")
    assert main(["restore", str(other), "--data", str(tmp_path / "new")]) == 1
    assert main(["restore", str(tmp_path / "none"), "--data", str(tmp_path / "new")]) == 1
    assert not (tmp_path / "new").exists()


def test_a_folder_with_anything_in_it_is_left_alone(
    made: tuple[TestSchool, Path], tmp_path: Path
) -> None:
    (tmp_path / "letter").write_text("kept")
    with pytest.raises(BackupError, match="is not empty"):
        restore.restore(restore.Wanted(made[1], tmp_path), made[0].clock)
    assert [path.name for path in tmp_path.iterdir()] == ["letter"]


def test_a_database_that_is_not_empty_is_left_alone(
    tmp_path: Path, fresh_postgres: str
) -> None:
    school = open_school(tmp_path / "a", fresh_postgres)
    file = back_up(school)
    with pytest.raises(BackupError, match="not empty"):
        restore.restore(restore.Wanted(file, tmp_path / "new", fresh_postgres), school.clock)
    close_school(school)


def test_keys_stay_at_home_unless_asked_for(school: TestSchool, tmp_path: Path) -> None:
    for name in ("school.key", "cookie.key"):
        (school.settings.data / name).write_text("secret")
    names = set(archive.unpack(back_up(school), make(tmp_path / "a")).members)
    assert names == {"database.sqlite"}
    names = set(archive.unpack(back_up(school, keys=True), make(tmp_path / "b")).members)
    assert names == {"database.sqlite", "school.key", "cookie.key"}


def make(folder: Path) -> Path:
    folder.mkdir()
    return folder


def test_only_the_newest_backups_are_kept(school: TestSchool) -> None:
    other = backup.folder_in(school.settings.data) / "other-20200101T000000Z.windtee-backup"
    other.parent.mkdir()
    other.write_text("of another school")
    made = []
    for _ in range(4):
        school.clock.pass_days(1)
        made.append(back_up(school, keep=2))
    assert backup.backups_in(other.parent) == [other, *made[2:]]
    assert made[3].stat().st_mode & 0o077 == 0


def test_two_backups_in_one_second_are_two_files(school: TestSchool) -> None:
    first, second = back_up(school), back_up(school)
    assert first != second
    assert backup.backups_in(first.parent) == [first, second]


def test_a_backup_is_an_act_of_the_server(school: TestSchool) -> None:
    back_up(school)
    page = school.visitor("gus").get("/audit")
    assert "Back the records up" in page
    assert "the server" in page


def test_the_manifest_counts_every_table(made: tuple[TestSchool, Path], tmp_path: Path) -> None:
    manifest = archive.unpack(made[1], make(tmp_path / "a"))
    there = {guard.table for guard in GUARDS} & manifest.rows.keys()
    assert {"audit_event", "grade", "lesson_record"} <= there
    assert manifest.rows["grade"] == 3
    assert manifest.school == "Test school"
