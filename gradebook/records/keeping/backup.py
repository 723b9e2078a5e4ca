"""Making a backup: one file, whole under its name or not there at all."""

import errno
import re
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Engine, column, select, table

from gradebook import __version__
from gradebook.ledger import keys
from gradebook.paths import to_disk
from gradebook.records import checkpoints
from gradebook.records.database import FAULTS, Database
from gradebook.records.jobs import Tell, silent
from gradebook.records.keeping import archive, copying, marks
from gradebook.records.keeping.manifest import DATABASES, BackupError, Manifest
from gradebook.records.keeping.noting import note
from gradebook.records.keeping.scratch import scratch_in
from gradebook.records.keeping.sealing import Recipient
from gradebook.records.schema import newest
from gradebook.settings import Settings

SUFFIX = ".windtee-backup"
NO_ROOM = {errno.ENOSPC, errno.EFBIG, errno.EDQUOT}
FULL = "There is no room for the backup; nothing was left behind."


@dataclass(frozen=True, slots=True)
class Wanted:
    """Where a backup goes, whether private keys go with it, how many are kept (0: all).

    `sealed_for`: who alone can open it; None for a backup that anybody can read. `tell` hears
    how far it is.
    """

    folder: Path
    keys: bool = False
    keep: int = 0
    sealed_for: Recipient | None = None
    tell: Tell = silent


def folder_in(data: Path) -> Path:
    """Where backups lie when nothing else is said."""
    return data / "backups"


def back_up(settings: Settings, database: Database, wanted: Wanted) -> Path:
    """Back the school up; the new file. BackupError says why it cannot be."""
    wanted.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    try:
        with scratch_in(wanted.folder) as scratch:
            made, manifest = _make(settings, database.engine, wanted, scratch)
            final = _place(made, wanted.folder, f"{_slug(manifest.school)}-{manifest.made_at}")
    except OSError as fault:
        raise BackupError(FULL if fault.errno in NO_ROOM else str(fault)) from fault
    except FAULTS as fault:
        full = "full" in str(fault) or "I/O" in str(fault)
        raise BackupError(FULL if full else f"The database: {fault}") from fault
    if manifest.revision == newest():
        facts = {
            "file": final.name,
            "rows": sum(manifest.rows.values()),
            "sealed": wanted.sealed_for is not None,
            "away": not wanted.folder.resolve().is_relative_to(settings.data.resolve()),
        }
        note(database, settings.now(), "system:backup", facts)
    _rotate(final, _slug(manifest.school), wanted.keep)
    return final


def _make(
    settings: Settings, engine: Engine, wanted: Wanted, scratch: Path
) -> tuple[Path, Manifest]:
    kind = engine.dialect.name
    copy = scratch / DATABASES[kind]
    wanted.tell("copy", 0, 0)
    held, revision = copying.copy_database(engine, copy)
    files = {copy.name: copy}
    notes = checkpoints.files_in(*checkpoints.folders(settings.data))
    files |= {f"checkpoints/{path.name}": path for path in notes}
    if wanted.keys:
        files |= {path.name: path for path in sorted(settings.data.glob("*.key"))}
    manifest = Manifest(
        school=_school(engine),
        made_at=settings.now().strftime("%Y%m%dT%H%M%SZ"),
        program=__version__,
        database=kind,
        revision=revision,
        rows=held.rows,
        checkpoint=marks.newest([path.read_text() for path in notes]),
        members=archive.measure(files),
        public=keys.public_of(settings.seed).hex(),
    )
    made = scratch / f"whole{SUFFIX}"
    archive.pack(made, files, manifest.as_json(settings.seed), wanted.sealed_for, wanted.tell)
    return made, manifest


def _school(engine: Engine) -> str:
    with engine.connect() as connection:
        name = connection.scalar(select(column("name")).select_from(table("school")))
    return name or "windtee"


def _slug(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:60] or "windtee"


def _place(made: Path, folder: Path, stem: str) -> Path:
    """Give the whole file its name, and both to the disk; no backup is overwritten."""
    final, number = folder / f"{stem}{SUFFIX}", 1
    while final.exists():
        number += 1
        final = folder / f"{stem}-{number}{SUFFIX}"
    made.rename(final)
    to_disk(folder)
    return final


def backups_in(folder: Path) -> list[Path]:
    """The backups of a folder, oldest first."""
    return sorted(
        folder.glob(f"*{SUFFIX}"), key=lambda path: (stamp_of(path), len(path.name), path.name)
    )


def stamp_of(path: Path) -> str:
    """When a backup was made, by its name; empty for a name that does not say."""
    found = re.search(r"-(\d{8}T\d{6}Z)", path.name)
    return found[1] if found else ""


def _rotate(newest_file: Path, school: str, keep: int) -> None:
    """Remove the oldest backups of this school beyond `keep`."""
    own = re.compile(rf"{re.escape(school)}-\d{{8}}T\d{{6}}Z(-\d+)?{re.escape(SUFFIX)}")
    files = [path for path in backups_in(newest_file.parent) if own.fullmatch(path.name)]
    for path in files[: -keep or len(files)] if keep else []:
        path.unlink()
