"""Restoring a backup into an empty place, and saying what it is worth."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from sqlalchemy import make_url, select
from sqlalchemy.orm import Session

from gradebook.ledger.canonical import sha256_hex
from gradebook.ledger.chain import CUT
from gradebook.ledger.notes import NoteError, read_verifier_key
from gradebook.ledger.succession import DisownedError, Succession
from gradebook.records import checkpoints, guards, schema
from gradebook.records.database import FAULTS, Database, open_engine
from gradebook.records.jobs import Tell, silent
from gradebook.records.keeping import archive, copying, erasures, marks
from gradebook.records.keeping.manifest import DATABASES, BackupError, Manifest
from gradebook.records.keeping.noting import note
from gradebook.records.keeping.scratch import scratch_in
from gradebook.records.keeping.sealing import Identity
from gradebook.records.store import people, proof, schoolkeys
from gradebook.records.tables.ledger import EarlyStatement

FILE = "windtee.db"


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which backup goes where, and which checkpoint from outside it must live up to.

    `database` is the SQLAlchemy URL to fill, or empty for the SQLite file of the folder `data`;
    `role` the application's role, where the URL names another. `identity` opens a sealed
    backup; `unsigned` takes one that this school did not sign: of the first format, or by a
    lost key; `line` are the school's keys, where the asker knows them: one that was in force
    where the backup's ledger ends must have signed it. `notices` are folders in which notices
    of erasures lie. `tell` hears how far it is.
    """

    file: Path
    data: Path
    database: str = ""
    checkpoint: str = ""
    role: str = ""
    notices: tuple[Path, ...] = ()
    identity: Identity | None = None
    unsigned: bool = False
    line: Succession | None = None
    tell: Tell = silent


@dataclass(frozen=True, slots=True)
class Findings:
    """What a restored school is worth: everything that is not as it should be, and counts.

    `root` is its ledger's over the `signed` entries; empty where there was no ledger yet.
    """

    manifest: Manifest
    differing: Sequence[str]
    guards: Sequence[str]
    signed: int
    altered: Sequence[str]
    lacking: Sequence[int]
    root: bytes = b""
    erased_again: int = 0

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
    manifest = archive.unpack(wanted.file, school, wanted.identity, wanted.tell)
    _check_signed(wanted, manifest)
    database = _load(wanted, manifest, school)
    try:
        findings = examine(database, wanted, manifest, _notes(wanted, manifest, school))
        schema.upgrade(database.engine, role=wanted.role)
        again = erasures.erase_again(database.engine, wanted.notices, now())
        with database.read() as session:
            erasures.keep_notices(session, checkpoints.folders(school)[:1])
        facts = {"file": wanted.file.name, "entries_lacking": len(findings.lacking)}
        note(database, now(), "system:restore", facts)
    finally:
        database.engine.dispose()
    return replace(findings, erased_again=again)


def _check_signed(wanted: Wanted, manifest: Manifest) -> None:
    """BackupError for a manifest that nobody signed, or another than was expected."""
    if not manifest.public and not wanted.unsigned:
        raise BackupError(
            "Nobody signed this backup: it is older than signed backups, or was altered. "
            "If you know where it has been all the time, restore it with --unsigned."
        )
    if manifest.public and wanted.line is not None:
        size = manifest.rows.get(marks.LEDGER.name, 0)
        if not wanted.line.covers(bytes.fromhex(manifest.public), size):
            raise BackupError(
                "This backup was signed by no key that this school had then: by another "
                "school's, or by one that was compromised, beyond its good size."
            )


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


def _notes(wanted: Wanted, manifest: Manifest, scratch: Path) -> list[str]:
    """Every checkpoint at hand."""
    kept = [path.read_text() for path in checkpoints.files_in(*checkpoints.folders(scratch))]
    return [note for note in (wanted.checkpoint, manifest.checkpoint, *kept) if note]


def examine(
    database: Database, wanted: Wanted, manifest: Manifest, notes: Sequence[str]
) -> Findings:
    """Hold a restored database against its manifest, guards, signatures and checkpoints.

    One of an older schema is brought to the newest first; SchemaError when it is newer,
    BackupError when another key than this school's signed the manifest, unless one
    that nobody signed is wanted.
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
    size = marks.size_of(marks.newest(notes))
    with database.read() as session:
        if not wanted.unsigned:
            _check_signer(session, manifest)
        signed, altered, root = _signatures(session, notes, wanted.tell)
        lacking = marks.lacking(session.connection(), size)
    return Findings(manifest, differing, faults, signed, altered, lacking, root)


def _check_signer(session: Session, manifest: Manifest) -> None:
    """BackupError when the manifest was not signed by the school that the database holds."""
    school = people.school(session)
    if school is None or not school.vkey or not manifest.public:
        return
    if read_verifier_key(school.vkey)[2].hex() != manifest.public:
        raise BackupError(
            "This backup was signed by another key than the school's it holds. If you "
            "know why, restore it with --unsigned."
        )


def _signatures(
    session: Session, notes: Sequence[str], tell: Tell
) -> tuple[int, list[str], bytes]:
    """How many entries were read, what does not hold (missing ones apart), and the root."""
    school = people.school(session)
    if school is None or not school.vkey:
        return *_early(session), b""
    outside, words, line = [], [], schoolkeys.succession(session)
    for text in notes:
        try:
            outside.append(checkpoints.read(text, line))
        except DisownedError:
            continue
        except NoteError as fault:
            words.append(f"A checkpoint is not this school's: {fault}.")
    found = proof.prove(session, school.vkey, outside, tell)
    longer = max((one.size for one in outside), default=0) > found.size
    words += [one.words for one in found.findings if not (longer and one.code == CUT)]
    return found.size, words, found.root


def _early(session: Session) -> tuple[int, list[str]]:
    """Records signed before the ledger: whether each text still has its digest."""
    rows = session.scalars(select(EarlyStatement).order_by(EarlyStatement.sequence)).all()
    changed = [row for row in rows if sha256_hex(row.statement.encode()) != row.digest]
    words = [f"record {row.record_id}: the signed text was changed." for row in changed]
    return len(rows), words
