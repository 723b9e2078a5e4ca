"""The drill: a backup is restored, examined, thrown away; what is wrong is told."""

from pathlib import Path

import pytest
from sqlalchemy import text

from gradebook.records import checkpoints, guards, schema
from gradebook.records.commands import checkpointing
from gradebook.records.database import migrating, open_engine
from gradebook.records.keeping import backup, drill, marks, restore
from gradebook.records.keeping.manifest import BackupError
from gradebook.records.pen import house_of
from tests.cast import SEED, TestSchool, close_school, open_school
from tests.early import go_back
from tests.postgres import Cluster
from tests.walks.test_main_job import sign_first_lesson

FIRST = "20261125_begin"


def unguarded(school: TestSchool, *statements: str) -> None:
    """What somebody who owns the database can do."""
    engine = school.database.engine
    with migrating(engine) as connection, connection.begin():
        guards.remove(connection)
        for statement in statements:
            connection.exec_driver_sql(statement)
        guards.install(connection)


def checkpoint(school: TestSchool) -> tuple[int, str]:
    """The school's signed word on how long its ledger is now."""
    with school.database.write() as session:
        row = checkpointing.issue(session, house_of(SEED), school.clock.at, None)
        return row.size, row.note


def test_a_drill_of_a_sound_school_finds_nothing(either_school: TestSchool) -> None:
    sign_first_lesson(either_school)
    done = drill.drill(either_school.settings, either_school.database)
    assert (done.code, done.findings.altered, done.gone) == (0, [], [])
    left = sorted(path.name for path in done.file.parent.iterdir())
    assert left == [done.file.name]
    trail = either_school.visitor("gus").get("/audit")
    assert "Try whether a backup can be restored" in trail


def test_a_drill_leaves_no_database_behind(tmp_path: Path, fresh_postgres: str) -> None:
    school = open_school(tmp_path, fresh_postgres)
    drill.drill(school.settings, school.database)
    with school.database.read() as session:
        query = text("SELECT count(*) FROM pg_database WHERE datname LIKE 'windtee_drill%'")
        assert session.execute(query).scalar() == 0
    close_school(school)


def test_a_drill_takes_the_newest_backup(school: TestSchool) -> None:
    folder = backup.folder_in(school.settings.data)
    for _ in range(2):
        school.clock.pass_days(1)
        newest = backup.back_up(school.settings, school.database, backup.Wanted(folder))
    assert drill.drill(school.settings, school.database).file == newest
    assert len(backup.backups_in(folder)) == 2


def test_an_altered_record_in_a_backup_is_found(either_school: TestSchool) -> None:
    sign_first_lesson(either_school)
    unguarded(either_school, "UPDATE grade SET level = 'perform' WHERE task = 'hover'")
    done = drill.drill(either_school.settings, either_school.database)
    assert done.code == 2
    assert "the row differs from what was signed" in done.findings.altered[0]


def test_rows_that_vanished_since_the_backup_are_found(either_school: TestSchool) -> None:
    sign_first_lesson(either_school)
    folder = backup.folder_in(either_school.settings.data)
    backup.back_up(either_school.settings, either_school.database, backup.Wanted(folder))
    unguarded(either_school, "DELETE FROM error_mark")
    done = drill.drill(either_school.settings, either_school.database)
    assert done.code == 2
    assert done.gone == ["error_mark: 1 rows were backed up, the school now has 0"]


def test_a_backup_of_a_database_without_guards_is_told(school: TestSchool) -> None:
    with migrating(school.database.engine) as connection, connection.begin():
        connection.exec_driver_sql("DROP TRIGGER guard_grade_update")
    done = drill.drill(school.settings, school.database)
    assert done.code == 2
    assert done.findings.guards == ["guard_grade_update is missing"]


def test_a_damaged_backup_fails_the_drill(school: TestSchool) -> None:
    folder = backup.folder_in(school.settings.data)
    file = backup.back_up(school.settings, school.database, backup.Wanted(folder))
    file.write_bytes(file.read_bytes()[:-100])
    with pytest.raises(BackupError, match="damaged or cut short"):
        drill.drill(school.settings, school.database)


def test_a_role_that_may_not_create_a_database_is_told_so(
    tmp_path: Path, postgres_cluster: Cluster, fresh_postgres: str
) -> None:
    name = fresh_postgres.rsplit("/", 1)[1]
    postgres_cluster.execute(f"CREATE ROLE plain_{name} LOGIN")
    postgres_cluster.execute(f"ALTER DATABASE {name} OWNER TO plain_{name}")
    school = open_school(tmp_path, fresh_postgres.replace("postgres@", f"plain_{name}@"))
    with pytest.raises(BackupError, match="may not create the scratch database"):
        drill.drill(school.settings, school.database)
    close_school(school)


def test_a_ledger_older_than_a_checkpoint_is_told_with_the_numbers_it_lacks(
    school: TestSchool, tmp_path: Path
) -> None:
    size, note = checkpoint(school)
    folder = backup.folder_in(school.settings.data)
    file = backup.back_up(school.settings, school.database, backup.Wanted(folder))
    sign_first_lesson(school)
    longer, later = checkpoint(school)
    wanted = restore.Wanted(file, tmp_path / "a", checkpoint=later)
    found = restore.restore(wanted, school.clock)
    assert (found.code, found.altered) == (3, [])
    assert found.lacking == list(range(size + 1, longer + 1))
    as_old = restore.Wanted(file, tmp_path / "b", checkpoint=note)
    assert restore.restore(as_old, school.clock).code == 0


def test_a_checkpoint_in_the_school_s_folder_goes_with_the_backup(
    school: TestSchool, tmp_path: Path
) -> None:
    sign_first_lesson(school)
    size, note = checkpoint(school)
    unguarded(school, f"DELETE FROM ledger_entry WHERE seq > {size - 2}")
    checkpoints.keep(note, size, checkpoints.folders(school.settings.data))
    folder = backup.folder_in(school.settings.data)
    file = backup.back_up(school.settings, school.database, backup.Wanted(folder))
    found = restore.restore(restore.Wanted(file, tmp_path / "new"), school.clock)
    assert (found.code, marks.ranges(found.lacking)) == (3, f"{size - 1}-{size}")
    assert (tmp_path / "new" / "checkpoints" / f"{size:012d}.note").exists()


@pytest.mark.parametrize(
    ("numbers", "words"), [([], ""), ([3], "3"), ([1, 2, 3, 7, 9, 10], "1-3, 7, 9-10")]
)
def test_numbers_are_told_as_ranges(numbers: list[int], words: str) -> None:
    assert marks.ranges(numbers) == words


def test_an_older_backup_is_brought_to_the_newest_schema(
    tmp_path: Path, school: TestSchool
) -> None:
    sign_first_lesson(school)
    go_back(school.database.engine, FIRST, school.settings.data)
    folder = backup.folder_in(school.settings.data)
    file = backup.back_up(school.settings, school.database, backup.Wanted(folder))
    found = restore.restore(restore.Wanted(file, tmp_path / "new"), school.clock)
    assert (found.code, found.manifest.revision, found.signed) == (0, FIRST, 1)
    engine = open_engine(f"sqlite:///{tmp_path / 'new' / 'windtee.db'}")
    schema.check(engine)
    engine.dispose()
