"""The guards are there after every migration, and no school is served without them."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from alembic.script import ScriptDirectory
from sqlalchemy import Engine, text

from gradebook.cli import main
from gradebook.records import guards, schema
from gradebook.records.database import migrating, open_engine
from gradebook.records.guards import postgres, sqlite
from tests.cast import TestSchool

REVISIONS = [
    one.revision
    for one in reversed(list(ScriptDirectory(str(schema.MIGRATIONS)).walk_revisions()))
]


@pytest.fixture(params=["sqlite", "postgres"])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    postgres_wanted = request.param == "postgres"
    url = request.getfixturevalue("fresh_postgres") if postgres_wanted else None
    engine = open_engine(url or f"sqlite:///{tmp_path / 'empty.db'}")
    yield engine
    engine.dispose()


def installed(engine: Engine) -> tuple[list[str], set[str]]:
    """What is missing, and the tables that have guards."""
    side = sqlite if engine.dialect.name == "sqlite" else postgres
    with engine.connect() as connection:
        found = {
            guard.table
            for guard in guards.GUARDS
            for name in side.there(connection)
            if name.startswith(f"guard_{guard.table}_")
        }
        return guards.missing(connection), found


def spoil(engine: Engine, statement: str) -> None:
    with migrating(engine) as connection, connection.begin():
        connection.exec_driver_sql(statement)


def test_an_empty_database_needs_no_guard(empty: Engine) -> None:
    assert installed(empty) == ([], set())


def test_guards_stand_after_every_migration_up_and_down(empty: Engine) -> None:
    for revision in REVISIONS:
        schema.upgrade(empty, revision)
        gone, there = installed(empty)
        assert gone == []
        assert {"audit_event", "grade", "lesson_record"} <= there
    for revision in reversed(REVISIONS[:-1]):
        schema.downgrade(empty, revision)
        assert installed(empty)[0] == []
        assert "audit_event" in installed(empty)[1]
    schema.upgrade(empty)
    assert installed(empty)[0] == []
    schema.check(empty)


def test_nothing_of_the_guards_stays_behind(empty: Engine) -> None:
    schema.upgrade(empty)
    schema.downgrade(empty, "base")
    assert installed(empty) == ([], set())


def test_a_dropped_guard_is_missed_and_put_back_by_an_upgrade(
    either_school: TestSchool,
) -> None:
    engine = either_school.database.engine
    on = " ON grade" if engine.dialect.name == "postgresql" else ""
    spoil(engine, f"DROP TRIGGER guard_grade_update{on}")
    with pytest.raises(schema.SchemaError, match="guard_grade_update is missing"):
        schema.check(engine)
    schema.upgrade(engine)
    schema.check(engine)


def test_a_weakened_guard_is_missed(either_school: TestSchool) -> None:
    engine = either_school.database.engine
    if engine.dialect.name == "postgresql":
        spoil(
            engine,
            "CREATE OR REPLACE FUNCTION guard_grade_delete() RETURNS trigger"
            " LANGUAGE plpgsql AS 'BEGIN RETURN OLD; END'",
        )
    else:
        spoil(engine, "DROP TRIGGER guard_grade_delete")
        spoil(
            engine,
            'CREATE TRIGGER "guard_grade_delete" BEFORE DELETE ON "grade" WHEN 0'
            " BEGIN SELECT RAISE(ABORT, 'no'); END",
        )
    with pytest.raises(schema.SchemaError, match="guard_grade_delete was changed"):
        schema.check(engine)


@pytest.mark.parametrize("how", ["DISABLE TRIGGER", "ENABLE REPLICA TRIGGER", "ENABLE TRIGGER"])
def test_a_guard_switched_off_on_postgresql_is_missed(fresh_postgres: str, how: str) -> None:
    engine = open_engine(fresh_postgres)
    schema.upgrade(engine)
    spoil(engine, f"ALTER TABLE grade {how} guard_grade_update")
    with pytest.raises(schema.SchemaError, match="guard_grade_update was changed"):
        schema.check(engine)
    engine.dispose()


def test_a_trigger_of_somebody_else_is_told(school: TestSchool) -> None:
    spoil(
        school.database.engine,
        "CREATE TRIGGER quiet BEFORE INSERT ON audit_event BEGIN SELECT RAISE(IGNORE); END",
    )
    with pytest.raises(schema.SchemaError, match="quiet is not known"):
        schema.check(school.database.engine)


def test_an_older_schema_says_to_upgrade(empty: Engine) -> None:
    schema.upgrade(empty, REVISIONS[0])
    with pytest.raises(schema.SchemaError, match="run windtee upgrade"):
        schema.check(empty)


def test_a_schema_of_a_newer_program_is_left_alone(empty: Engine) -> None:
    schema.upgrade(empty)
    spoil(empty, "UPDATE alembic_version SET version_num = '20991231_later'")
    for act in (schema.check, schema.upgrade):
        with pytest.raises(schema.SchemaError, match="does not know"):
            act(empty)
    with empty.connect() as connection:
        kept = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    assert kept == "20991231_later"


def test_a_school_without_a_guard_is_not_served(
    school: TestSchool, capsys: pytest.CaptureFixture[str]
) -> None:
    spoil(school.database.engine, "DROP TRIGGER guard_audit_event_delete")
    assert main(["serve", "--data", str(school.settings.data)]) == 1
    assert "guard_audit_event_delete is missing" in capsys.readouterr().err


def test_a_folder_without_a_school_is_not_served(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["serve", "--data", str(tmp_path)]) == 1
    assert "run windtee setup" in capsys.readouterr().err
