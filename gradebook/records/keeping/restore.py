"""Restoring a backup into an empty place, and saying what it is worth."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import make_url

from gradebook.records import guards, schema
from gradebook.records.database import FAULTS, Database, open_engine
from gradebook.records.keeping import archive, copying, marks
from gradebook.records.keeping.manifest import DATABASES, BackupError, Manifest
from gradebook.records.keeping.noting import note
from gradebook.records.keeping.scratch import scratch_in
from gradebook.records.statement import prove_chain
from gradebook.records.store import trail

FILE = "windtee.db"


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which backup goes where, and which checkpoint from outside it must live up to.

    `database` is the SQLAlchemy URL to fill, or empty for the SQLite file of the folder `data`;
    `role` the application's role, where the URL names another.
    """

    file: Path
    data: Path
    database: str = ""
    checkpoint: str = ""
    role: str = ""


@dataclass(frozen=True, slots=True)
class Findings:
    """What a restored school is worth: everything that is not as it should be, and counts."""

    manifest: Manifest
    differing: Sequence[str]
    guards: Sequence[str]
    signed: int
    altered: Sequence[str]
    lacking: Sequence[int]

    @property
    def code(self) -> int:
        """0 when all is well, 3 when the ledger has shrunk, 2 when anything else differs."""
        if self.lacking:
            return 3
        return 2 if self.differing or self.guards or self.altered else 0


def restore(wanted: Wanted, now: Callable[[], datetime]) -> Findings:
    """Restore a backup; BackupError, and nothing is left, when it cannot be trusted."""
    if wanted.data.exists() and (not wanted.data.is_dir() or any(wanted.data.iterdir())):
        raise BackupError(f"{wanted.data} is not empty: restore into a new folder.")
    wanted.data.parent.mkdir(parents=True, exist_ok=True)
    try:
        with scratch_in(wanted.data.parent) as scratch:
            school = scratch / "school"
            school.mkdir(mode=0o700)
            findings = _fill(wanted, now, school)
            if wanted.data.exists():
                wanted.data.rmdir()
            school.rename(wanted.data)
    except (OSError, *FAULTS) as fault:
        raise BackupError(f"The backup cannot be restored: {fault}") from fault
    return findings


def _fill(wanted: Wanted, now: Callable[[], datetime], school: Path) -> Findings:
    manifest = archive.unpack(wanted.file, school)
    database = _load(wanted, manifest, school)
    try:
        findings = examine(database, manifest, _demanded(wanted, manifest, school))
        schema.upgrade(database.engine, role=wanted.role)
        facts = {"file": wanted.file.name, "entries_lacking": len(findings.lacking)}
        note(database, now(), "system:restore", facts)
    finally:
        database.engine.dispose()
    return findings


def _load(wanted: Wanted, manifest: Manifest, scratch: Path) -> Database:
    member = scratch / DATABASES[manifest.database]
    kind = make_url(wanted.database).get_backend_name() if wanted.database else "sqlite"
    if kind != manifest.database:
        raise BackupError(
            f"This is a backup of {manifest.database}; WINDTEE_DATABASE must name one."
        )
    if kind == "sqlite":
        member.rename(scratch / FILE)
        return Database(open_engine(f"sqlite:///{scratch / FILE}"))
    copying.load_postgres(wanted.database, member)
    member.unlink()
    return Database(open_engine(wanted.database))


def _demanded(wanted: Wanted, manifest: Manifest, scratch: Path) -> int:
    """The largest ledger that any checkpoint at hand vouches for."""
    notes = [path.read_text() for path in marks.folder_in(scratch).glob("*.note")]
    return marks.size_of(marks.newest([wanted.checkpoint, manifest.checkpoint, *notes]))


def examine(database: Database, manifest: Manifest, size: int) -> Findings:
    """Hold a restored database against its manifest, its guards, its signatures, a checkpoint.

    One of an older schema is brought to the newest first; SchemaError when it is newer.
    """
    engine = database.engine
    held, revision = copying.contents(engine)
    there, backed_up = held.rows, manifest.rows
    differing = [
        f"{name}: {backed_up.get(name, 0)} rows were backed up, {there.get(name, 0)} are there"
        for name in sorted({*there, *backed_up})
        if there.get(name) != backed_up.get(name)
    ]
    with engine.connect() as connection:
        faults = guards.missing(connection) if revision == schema.newest() else []
    schema.upgrade(engine)
    with database.read() as session:
        signed = trail.signed_records(session)
        altered = [f"record {row.id}: {proof.words}" for row, proof in prove_chain(signed)]
        lacking = marks.lacking(session.connection(), size)
    return Findings(manifest, differing, faults, len(signed), altered, lacking)
