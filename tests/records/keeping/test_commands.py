"""The commands that keep a school: what they say and how they end."""

from pathlib import Path

import pytest
from sqlalchemy import func, select

from gradebook.cli import main
from gradebook.ledger.chain import ALTERED, CUT
from gradebook.records import schema
from gradebook.records.database import migrating, open_engine
from gradebook.records.keeping import backup, copying
from gradebook.records.tables.ledger import AuditNode
from tests.cast import TestSchool, close_school, open_school
from tests.early import go_back
from tests.records.keeping.test_drill import unguarded
from tests.walks.test_main_job import sign_first_lesson

FIRST = "20261125_begin"


def files(data: Path) -> list[Path]:
    return backup.backups_in(backup.folder_in(data))


def test_an_upgrade_backs_up_first_and_counts(
    school: TestSchool, capsys: pytest.CaptureFixture[str]
) -> None:
    sign_first_lesson(school)
    data = school.settings.data
    go_back(school.database.engine, FIRST, school.settings.data)
    assert main(["upgrade", "--data", str(data)]) == 0
    said = capsys.readouterr().out.split()
    assert str(files(data)[0]) in said
    at = said.index("grade")
    assert said[at : at + 5] == ["grade", "3", "->", "3", "rows"]
    schema.check(school.database.engine)
    assert main(["upgrade", "--data", str(data)]) == 0
    assert len(files(data)) == 1


def test_an_upgrade_without_a_backup_must_be_asked_for(
    tmp_path: Path,
    fresh_postgres: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    school = open_school(tmp_path, fresh_postgres)
    go_back(school.database.engine, FIRST, school.settings.data)
    monkeypatch.setenv("WINDTEE_DATABASE", fresh_postgres)
    monkeypatch.setenv("PATH", "")
    monkeypatch.setattr(copying, "PROGRAMS", "nowhere/at/all/*/bin")
    assert main(["upgrade", "--data", str(tmp_path)]) == 1
    assert "pg_dump is missing" in capsys.readouterr().err
    assert schema.current(school.database.engine) == FIRST
    assert main(["upgrade", "--no-backup", "--data", str(tmp_path)]) == 0
    assert schema.current(school.database.engine) == schema.newest()
    close_school(school)


def test_an_upgrade_that_cannot_be_is_told(
    school: TestSchool, capsys: pytest.CaptureFixture[str]
) -> None:
    with migrating(school.database.engine) as connection, connection.begin():
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = 'later'")
    assert main(["upgrade", "--data", str(school.settings.data)]) == 1
    assert "does not know" in capsys.readouterr().err


def test_backup_drill_and_restore_from_the_command_line(
    school: TestSchool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sign_first_lesson(school)
    (school.settings.data / "school.key").write_text(school.settings.seed.hex())
    data, away = str(school.settings.data), tmp_path / "away"
    assert main(["backup", "--data", data, "--to", str(away), "--keep", "3"]) == 0
    assert main(["drill", "--data", data]) == 0
    new = str(tmp_path / "new")
    assert main(["restore", str(backup.backups_in(away)[0]), "--data", new]) == 0
    said = capsys.readouterr().out
    assert said.count("entries of the ledger: 0 things not as signed.") == 2
    assert "The backup can be relied on." in said
    assert main(["verify", "--data", new]) == 0


def test_nothing_can_be_backed_up_where_no_school_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["backup", "--data", str(tmp_path / "none")]) == 1
    assert "no school here" in capsys.readouterr().err
    assert main(["drill", "--data", str(tmp_path / "none")]) == 1


def test_a_backup_of_one_kind_is_not_put_into_the_other(
    school: TestSchool,
    tmp_path: Path,
    fresh_postgres: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["backup", "--data", str(school.settings.data)]) == 0
    monkeypatch.setenv("WINDTEE_DATABASE", fresh_postgres)
    file = str(files(school.settings.data)[0])
    assert main(["restore", file, "--data", str(tmp_path / "new")]) == 1
    assert "This is a backup of sqlite" in capsys.readouterr().err
    assert not (tmp_path / "new").exists()


def test_a_migration_that_would_lose_rows_changes_nothing(tmp_path: Path) -> None:
    school = open_school(tmp_path)
    engine = school.database.engine
    sign_first_lesson(school)
    go_back(engine, FIRST, tmp_path)
    with migrating(engine) as connection, connection.begin():
        connection.exec_driver_sql(
            "CREATE TRIGGER eats AFTER UPDATE ON alembic_version"
            " BEGIN DELETE FROM login_session; END"
        )
    close_school(school)
    again = open_engine(school.settings.database)
    with pytest.raises(schema.SchemaError, match="login_session had 1 rows and has 0"):
        schema.upgrade(again)
    assert schema.current(again) == FIRST
    again.dispose()


def test_a_trail_that_cannot_go_on_is_told_by_every_command(
    school: TestSchool, capsys: pytest.CaptureFixture[str]
) -> None:
    sign_first_lesson(school)
    data = ["--data", str(school.settings.data)]
    (school.settings.data / "school.key").write_text(school.settings.seed.hex())
    while (size := _events(school)) % 4 != 3:
        school.visitor("gus")
    gone = size - 1  # the next event stands on the two before it
    unguarded(school, f"DELETE FROM audit_node WHERE place = {gone}")
    code = main(["verify", *data])
    said = capsys.readouterr().err
    assert code == ALTERED, said
    assert f"Audit event {size} is not what was written" in said
    assert "This run is not on the audit trail" in said
    assert main(["backup", *data]) == CUT
    assert "Rows of the ledger or of the audit trail are missing" in capsys.readouterr().err


def _events(school: TestSchool) -> int:
    with school.database.read() as session:
        return session.scalar(select(func.max(AuditNode.place))) or 0
