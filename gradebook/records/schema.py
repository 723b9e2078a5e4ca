"""Bringing a database to the schema this program needs."""

from collections.abc import Callable
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine

MIGRATIONS = Path(__file__).resolve().parent / "migrations"


class SchemaError(Exception):
    """The database cannot be brought to this program's schema; the words say why."""


def _config(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def newest() -> str:
    """The newest schema revision this program knows."""
    head = ScriptDirectory.from_config(_config()).get_current_head()
    if head is None:
        raise SchemaError("This program ships without its migrations.")
    return head


def current(engine: Engine) -> str | None:
    """The schema revision of a database; None for an empty one."""
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def upgrade(engine: Engine, to: str = "head") -> None:
    """Migrate to a revision in one transaction, with foreign keys checked at its end.

    On SQLite foreign keys are off while tables are rebuilt, so that rebuilding a parent table
    cannot cascade into its children.
    """
    _migrate(engine, lambda config: command.upgrade(config, to))


def downgrade(engine: Engine, to: str) -> None:
    """Take migrations back down to a revision (`base`: to nothing)."""
    _migrate(engine, lambda config: command.downgrade(config, to))


def _migrate(engine: Engine, step: Callable[[Config], None]) -> None:
    sqlite = engine.dialect.name == "sqlite"
    with engine.connect() as connection:
        raw = connection.connection.dbapi_connection
        if sqlite and raw is not None:
            raw.execute("PRAGMA foreign_keys=OFF")
        try:
            with connection.begin():
                step(_config(connection))
                broken = (
                    connection.exec_driver_sql("PRAGMA foreign_key_check").all()
                    if sqlite
                    else []
                )
                if broken:
                    raise SchemaError(f"{len(broken)} rows would lose what they refer to.")
        finally:
            if sqlite and raw is not None:
                raw.execute("PRAGMA foreign_keys=ON")
