"""Bringing a school to the newest schema, with a backup before anything changes."""

from dataclasses import dataclass
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from gradebook.records import schema
from gradebook.records.commands import adopting
from gradebook.records.database import Database, open_engine, trouble
from gradebook.records.keeping import backup
from gradebook.settings import Settings

DENIED = "42501"
"""What PostgreSQL calls insufficient privilege."""


@dataclass(frozen=True, slots=True)
class Upgraded:
    """From which schema, what was counted before and after, and the backup made first."""

    since: str | None
    counted: schema.Migrated
    file: Path | None
    adopted: int


def bring_up(settings: Settings, database: Database, *, safe: bool = True) -> Upgraded:
    """Migrate; when `safe`, a database that is behind is backed up first.

    SchemaError or BackupError, and nothing is changed, when either cannot be done.
    """
    since = schema.current(database.engine)
    file = None
    if safe and since is not None and since != schema.newest():
        file = backup.back_up(
            settings, database, backup.Wanted(backup.folder_in(settings.data))
        )
    counted = migrate(settings)
    return Upgraded(since, counted, file, adopt(settings))


def adopt(settings: Settings) -> int:
    """Enter records that are older than the ledger in it; how many statements that took."""
    engine = open_engine(settings.owning)
    try:
        return adopting.adopt(engine, settings.seed, settings.now())
    finally:
        engine.dispose()


def migrate(settings: Settings) -> schema.Migrated:
    """Migrate as the role that owns the schema, and let the application's role work in it."""
    engine = open_engine(settings.owning)
    try:
        return schema.upgrade(engine, role=settings.role)
    except DBAPIError as fault:
        raise refusal(fault, engine.url.username) from fault
    finally:
        engine.dispose()


def refusal(fault: DBAPIError, role: str | None) -> Exception:
    """The fault as one that says what to do; itself when nothing is known of it."""
    if getattr(fault.orig, "sqlstate", "") == DENIED:
        return schema.SchemaError(
            f"The role {role} may not change the schema: name its owner in "
            "WINDTEE_DATABASE_OWNER."
        )
    if known := trouble(fault):
        return schema.SchemaError(f"{known} Stop the server first. Nothing was changed.")
    return fault
