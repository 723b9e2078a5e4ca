"""Bringing a database to the schema this program needs."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine

from gradebook.records import guards
from gradebook.records.database import migrating
from gradebook.records.disk import share_here
from gradebook.records.guards import roles
from gradebook.records.tally import Tally, lost, tally

MIGRATIONS = Path(__file__).resolve().parent / "migrations"
ONE_AT_A_TIME = 20261125
"""The advisory lock a migration holds on PostgreSQL; SQLite has one writer anyway."""

_UNKNOWN = (
    "The database is at schema {}, which this program does not know: "
    "run the newer program it was last used with."
)


class SchemaError(Exception):
    """The database cannot be brought to this program's schema; the words say why."""


@dataclass(frozen=True, slots=True)
class Migrated:
    """What a migration found and what it left."""

    before: Tally
    after: Tally


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
        return revision_of(connection)


def revision_of(connection: Connection) -> str | None:
    """The schema revision seen by a connection; None for an empty database."""
    return MigrationContext.configure(connection).get_current_revision()


def known(revision: str) -> bool:
    """Whether this program has the migration of that revision."""
    script = ScriptDirectory.from_config(_config())
    return any(one.revision == revision for one in script.walk_revisions())


def check(engine: Engine) -> None:
    """SchemaError unless the database is at the newest schema with every guard in place."""
    file = engine.url.database
    if engine.dialect.name == "sqlite" and file and (kind := share_here(Path(file))):
        raise SchemaError(
            f"{file} lies on a network share ({kind}), where SQLite's locks do not hold: "
            "use a local disk, or PostgreSQL by WINDTEE_DATABASE."
        )
    with engine.connect() as connection:
        revision, faults = revision_of(connection), guards.missing(connection)
    if revision is None:
        raise SchemaError("The database is empty: run windtee setup (windtee setup --help).")
    if not known(revision):
        raise SchemaError(_UNKNOWN.format(revision))
    if revision != newest():
        raise SchemaError(
            f"The database is at schema {revision}, this program needs {newest()}: "
            "run windtee upgrade."
        )
    if faults:
        raise SchemaError(
            f"Guards of the database differ: {'; '.join(faults)}. Somebody may have changed "
            "records: run windtee verify, then windtee upgrade to put the guards back."
        )


def upgrade(engine: Engine, to: str = "head", *, role: str = "") -> Migrated:
    """Migrate to a revision in one transaction, with foreign keys checked at its end.

    On SQLite foreign keys are off while tables are rebuilt, so that rebuilding a parent table
    cannot cascade into its children. SchemaError, and nothing is changed, when a table would
    lose rows or columns that its migration does not name in `loses`. On PostgreSQL `role`, when
    it is another than the owner, gets exactly what the application needs.
    """
    since = current(engine)
    if since is not None and not known(since):
        raise SchemaError(_UNKNOWN.format(since))

    def step(connection: Connection) -> None:
        command.upgrade(_config(connection), to)
        if role:
            roles.grant(connection, role)

    return _migrate(engine, step, _declared(since, to))


def downgrade(engine: Engine, to: str) -> None:
    """Take migrations back down to a revision (`base`: to nothing)."""
    _migrate(engine, lambda connection: command.downgrade(_config(connection), to), None)


def _declared(since: str | None, to: str) -> set[str]:
    """Tables, and columns as table.column, that the migrations between may lose."""
    script = ScriptDirectory.from_config(_config())
    return {
        name
        for revision in script.iterate_revisions(to, since or "base")
        for name in getattr(revision.module, "loses", ())
    }


def _migrate(
    engine: Engine, step: Callable[[Connection], None], declared: set[str] | None
) -> Migrated:
    """Guards off, step, proof, guards on, or nothing. `declared` None: losses are meant."""
    with migrating(engine) as connection, connection.begin():
        if engine.dialect.name == "postgresql":
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({ONE_AT_A_TIME})")
        before = tally(connection)
        guards.remove(connection)
        step(connection)
        after = tally(connection)
        faults = [] if declared is None else lost(before, after, declared)
        if engine.dialect.name == "sqlite":
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
            faults += [f"{len(broken)} rows would lose what they refer to"] if broken else []
        if faults:
            raise SchemaError(f"Nothing was changed: {'; '.join(faults)}.")
        guards.install(connection)
    return Migrated(before, after)
