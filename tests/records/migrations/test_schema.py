"""The migrations against the tables: both databases end where the program expects."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Engine, inspect, text

from gradebook.records import schema
from gradebook.records.database import open_engine
from gradebook.records.tables import Table


@pytest.fixture(params=["sqlite", "postgres"])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    """An engine on an empty database."""
    postgres = request.param == "postgres"
    url = request.getfixturevalue("fresh_postgres") if postgres else None
    engine = open_engine(url or f"sqlite:///{tmp_path / 'empty.db'}")
    yield engine
    engine.dispose()


def differences(engine: Engine) -> list[object]:
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        return list(compare_metadata(context, Table.metadata))


def tables(engine: Engine) -> set[str]:
    return set(inspect(engine).get_table_names())


def checks(engine: Engine) -> set[tuple[str, str | None]]:
    found = inspect(engine)
    return {
        (table, check["name"])
        for table in found.get_table_names()
        for check in found.get_check_constraints(table)
    }


def test_an_empty_database_has_no_revision(empty: Engine) -> None:
    assert schema.current(empty) is None


def test_the_migrations_end_at_the_tables_the_program_knows(empty: Engine) -> None:
    schema.upgrade(empty)
    assert differences(empty) == []
    assert tables(empty) == {*Table.metadata.tables, "alembic_version"}


def test_the_migrations_carry_every_check_of_the_tables(empty: Engine, tmp_path: Path) -> None:
    schema.upgrade(empty)
    made = open_engine(f"sqlite:///{tmp_path / 'made.db'}")
    Table.metadata.create_all(made)
    wanted = checks(made)
    made.dispose()
    assert wanted
    assert checks(empty) == wanted


def test_an_upgraded_database_is_at_the_newest_revision(empty: Engine) -> None:
    schema.upgrade(empty)
    assert schema.current(empty) == schema.newest()


def test_a_downgrade_to_nothing_leaves_no_table(empty: Engine) -> None:
    schema.upgrade(empty)
    schema.downgrade(empty, "base")
    assert tables(empty) <= {"alembic_version"}
    assert schema.current(empty) is None


def test_upgrading_twice_changes_nothing_the_second_time(empty: Engine) -> None:
    schema.upgrade(empty)
    schema.upgrade(empty)
    assert differences(empty) == []


def test_a_database_can_be_taken_down_and_up_again(empty: Engine) -> None:
    schema.upgrade(empty)
    schema.downgrade(empty, "base")
    schema.upgrade(empty)
    assert differences(empty) == []


def test_an_upgrade_keeps_what_a_school_has_written(empty: Engine) -> None:
    schema.upgrade(empty)
    with empty.begin() as connection:
        connection.execute(
            text("INSERT INTO login_attempt (id, subject, failed_at) VALUES (:i, :s, :f)"),
            {"i": "one", "s": "somebody", "f": "2026-05-20 09:00:00+00:00"},
        )
    schema.upgrade(empty)
    with empty.connect() as connection:
        assert connection.execute(text("SELECT subject FROM login_attempt")).scalar() == (
            "somebody"
        )


def test_a_table_cannot_be_rebuilt_over_rows_that_would_lose_what_they_refer_to(
    tmp_path: Path,
) -> None:
    engine = open_engine(f"sqlite:///{tmp_path / 'broken.db'}")
    schema.upgrade(engine)
    with engine.connect() as connection:
        raw = connection.connection.dbapi_connection
        assert raw is not None
        raw.execute("PRAGMA foreign_keys=OFF")
        raw.execute(
            "INSERT INTO role_grant (id, person_id, role, granted_at)"
            " VALUES ('one', 'nobody', 'student', '2026-05-20')"
        )
        raw.execute("PRAGMA foreign_keys=ON")
    with pytest.raises(schema.SchemaError, match="1 rows would lose what they refer to"):
        schema.upgrade(engine)
    engine.dispose()
