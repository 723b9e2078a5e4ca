"""Bringing a school to the newest schema, with a backup before anything changes."""

from dataclasses import dataclass
from pathlib import Path

from gradebook.records import schema
from gradebook.records.database import Database
from gradebook.records.keeping import backup
from gradebook.settings import Settings


@dataclass(frozen=True, slots=True)
class Upgraded:
    """From which schema, what was counted before and after, and the backup made first."""

    since: str | None
    counted: schema.Migrated
    file: Path | None


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
    return Upgraded(since, schema.upgrade(database.engine), file)
