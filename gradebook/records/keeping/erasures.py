"""What an erasure leaves behind outside the database: notices, swept files, older backups.

A notice is the erasure's own signed statement, kept beside the checkpoints. A copy restored
from before it still holds the texts; the notice names them, by which they are erased again.
"""

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, select, update
from sqlalchemy.orm import Session

from gradebook.ledger.canonical import MalformedError
from gradebook.ledger.erasures import notice_of
from gradebook.records.commands import carrying
from gradebook.records.database import Database, migrating
from gradebook.records.erasure import swept
from gradebook.records.faults import TornError
from gradebook.records.keeping import backup
from gradebook.records.store import ledger
from gradebook.records.tables.erasures import ErasureNotice, ErasureRequest

SUFFIX = ".erasure"
BROUGHT_BACK = (
    "This school holds records that were erased (entry {}): a copy from before was restored. "
    "Nothing is served until they are erased again: run windtee erase."
)


def keep_notices(session: Session, places: Sequence[Path]) -> int:
    """Write the notice of every erasure that a folder lacks; how many were written.

    Also of those that this ledger, restored from an older copy, knows by notice alone.
    """
    rows = [*ledger.erasures(session), *session.scalars(select(ErasureNotice))]
    written = 0
    for row in rows:
        for folder in places:
            path = folder / f"{row.seq:012d}-{row.digest[:8]}{SUFFIX}"
            if not path.exists():
                _write(path, notice_of(row.entry, row.statement))
                written += 1
    return written


def _write(path: Path, data: bytes) -> None:
    """Whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(".part")
    with unfinished.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    unfinished.replace(path)


def notices_in(places: Sequence[Path]) -> Iterator[tuple[Path, bytes]]:
    """Every notice in these folders, each once."""
    seen = set[bytes]()
    for folder in places:
        for path in sorted(folder.glob(f"*{SUFFIX}")):
            data = path.read_bytes()
            if data not in seen:
                seen.add(data)
                yield path, data


def check(session: Session, places: Sequence[Path]) -> None:
    """Return when nothing is here that was erased; else TornError says what to do."""
    for path, data in notices_in(places):
        try:
            found = carrying.owed(session, data)
        except MalformedError as fault:
            raise TornError(f"{path} is not a notice of this school: {fault}.") from fault
        if found is not None:
            raise TornError(BROUGHT_BACK.format(found[0].seq))


def erase_again(engine: Engine, places: Sequence[Path], at: datetime) -> int:
    """Erase whatever the notices in these folders say was erased; how many took effect.

    Notices of other schools are passed over.
    """
    done = 0
    for _, data in notices_in(places):
        try:
            done += carrying.apply_again(engine, data, at)
        except MalformedError:
            continue
    if done:
        sweep(engine)
    return done


def sweep(engine: Engine) -> None:
    """Let the database's files no longer hold what its rows do not; it may run many times.

    SQLite's file is written anew and its log emptied; PostgreSQL rewrites the tables. Blocks
    that the disk has freed, and archives of PostgreSQL's log, are beyond this.
    """
    with migrating(engine) as connection:
        if connection.dialect.name == "sqlite":
            raw: Any = connection.connection.dbapi_connection
            raw.execute("PRAGMA secure_delete=ON")
            raw.execute("VACUUM")
            raw.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
            return
    plain = engine.execution_options(isolation_level="AUTOCOMMIT")
    with plain.connect() as connection:
        quote = connection.dialect.identifier_preparer.quote
        for name in swept():
            connection.exec_driver_sql(f"VACUUM (FULL, ANALYZE) {quote(name)}")


def unswept(session: Session) -> bool:
    """Whether something was erased whose file has not been written anew since."""
    query = select(ErasureRequest.id).where(
        ErasureRequest.done_at.is_not(None), ErasureRequest.swept_at.is_(None)
    )
    return session.scalar(query.limit(1)) is not None


def note_swept(database: Database, at: datetime) -> None:
    """Remember that the files hold nothing any more of what was erased."""
    query = update(ErasureRequest).where(
        ErasureRequest.done_at.is_not(None), ErasureRequest.swept_at.is_(None)
    )
    with database.write() as session:
        session.execute(query.values(swept_at=at))


@dataclass(frozen=True, slots=True)
class Older:
    """Backups made before the last erasure, by name: they still hold what was erased."""

    since: datetime
    files: tuple[Path, ...]


def older_backups(session: Session, folders: Sequence[Path]) -> Older | None:
    """The backups in these folders from before the last erasure; None where none was."""
    query = select(ErasureRequest.done_at).where(ErasureRequest.done_at.is_not(None))
    last = max((at for at in session.scalars(query) if at), default=None)
    if last is None:
        return None
    stamp = last.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    found = [path for folder in folders for path in backup.backups_in(folder)]
    return Older(last, tuple(path for path in found if backup.stamp_of(path) <= stamp))
