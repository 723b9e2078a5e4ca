"""Looking an installation over: its database, its folder, its clocks. Nothing is changed."""

import os
import re
import shutil
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import func, select, text
from sqlalchemy.orm import Session

from gradebook import demo_accounts
from gradebook.ledger.keys import public_of
from gradebook.records.database import wal_is_safe
from gradebook.records.keeping import backup, erasures
from gradebook.records.soundness.facts import (
    KEPT_ON,
    Clocks,
    Facts,
    Folder,
    HouseKey,
    Postgres,
    Serving,
    Sqlite,
)
from gradebook.records.store import needles, schoolkeys
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.people import Person
from gradebook.settings import SCHOOL_KEY, Settings, seed_in

MOUNTS = Path("/proc/mounts")
OTHERS = 0o077
OWNED = """
    SELECT count(*) FROM pg_class WHERE relkind IN ('r', 'p')
    AND relnamespace = current_schema()::regnamespace
    AND pg_has_role(current_user, relowner, 'USAGE')
"""


def look_over(session: Session, settings: Settings, *, debug: bool) -> Facts:
    """The facts of this installation, as they are now."""
    bind = session.get_bind()
    is_sqlite = bind.dialect.name == "sqlite"
    file = bind.engine.url.database if is_sqlite else None
    return Facts(
        storage=_sqlite(session) if is_sqlite else _postgres(session),
        folder=_folder(session, settings.data, Path(file).parent if file else settings.data),
        serving=Serving(
            hosts=settings.hosts,
            https=settings.secure_cookies,
            debug=debug,
            demo=settings.demo,
            demo_accounts=_demo_accounts(session),
        ),
        clocks=Clocks(
            now=settings.now(),
            database=None if is_sqlite else session.scalar(select(func.clock_timestamp())),
            newest=session.scalar(select(func.max(AuditEvent.at))),
        ),
        key=_key(session, settings),
        needles=needles.outdated(session),
    )


def _key(session: Session, settings: Settings) -> HouseKey:
    line = schoolkeys.succession(session)
    if line.current is None:
        return HouseKey()
    seeds = [settings.seed]
    if (settings.data / SCHOOL_KEY).exists():
        seeds.append(seed_in(settings.data))  # changed since this server began
    return HouseKey(
        fingerprint=line.fingerprint_of(line.current),
        since=line.current.since,
        earlier=len(line.keys) - 1,
        broken=sum(one.compromised for one in line.keys),
        held=line.current.public in [public_of(seed) for seed in seeds if seed],
    )


def _sqlite(session: Session) -> Sqlite:
    version: str = session.scalar(text("SELECT sqlite_version()")) or "0"
    return Sqlite(
        version=version,
        race_free=wal_is_safe(tuple(map(int, version.split(".")))),
        journal=session.scalar(text("PRAGMA journal_mode")) or "",
        synchronous=session.scalar(text("PRAGMA synchronous")) or 0,
    )


def _postgres(session: Session) -> Postgres:
    superuser = text("SELECT rolsuper FROM pg_roles WHERE rolname = current_user")
    setting = text("SELECT current_setting(:name, true)")
    return Postgres(
        version=session.scalar(text("SHOW server_version")) or "",
        superuser=bool(session.scalar(superuser)),
        owns_tables=bool(session.scalar(text(OWNED))),
        settings={name: session.scalar(setting, {"name": name}) or "" for name in KEPT_ON},
    )


def _demo_accounts(session: Session) -> int:
    printed = [email for _, email in demo_accounts.DOORS]
    query = select(func.count()).where(Person.email.in_(printed), Person.active)
    return session.scalar(query) or 0


def _folder(session: Session, data: Path, of_database: Path) -> Folder:
    usage = shutil.disk_usage(of_database)
    mounts = MOUNTS.read_text() if MOUNTS.exists() else ""
    away = _newest_away(session)
    written = (newest_in(backup.folder_in(data)), None if away is None else away.at)
    older = erasures.older_backups(session, [backup.folder_in(data)])
    moments = [moment for moment in written if moment is not None]
    return Folder(
        filesystem=filesystem_of(of_database.resolve(), mounts),
        open_files=open_files(data),
        free=usage.free,
        size=usage.total,
        backed_up=max(moments, default=None),
        open_away="" if away is None or away.facts.get("sealed") else str(away.facts["file"]),
        older=() if older is None else tuple(path.name for path in older.files),
    )


def _newest_away(session: Session) -> AuditEvent | None:
    """The newest backup that was written outside the school's folder."""
    query = select(AuditEvent).where(AuditEvent.action == "system:backup")
    newest = session.scalars(query.order_by(AuditEvent.id.desc()).limit(50))
    return next((event for event in newest if event.facts.get("away")), None)


def filesystem_of(folder: Path, mounts: str) -> str:
    """The type of the file system `folder` lies on, by the words of /proc/mounts; "" unknown.

    The deepest mount point counts, of several at one place the last.
    """
    deepest, kind = -1, ""
    for line in mounts.splitlines():
        words = line.split()
        if len(words) < 3:
            continue
        point = Path(re.sub(r"\\([0-7]{3})", lambda found: chr(int(found[1], 8)), words[1]))
        if folder.is_relative_to(point) and len(point.parts) >= deepest:
            deepest, kind = len(point.parts), words[2]
    return kind


def open_files(data: Path) -> tuple[str, ...]:
    """Files in `data`, by name, that other accounts of the machine can reach and read."""
    if os.name == "nt" or not data.stat().st_mode & OTHERS:
        return ()
    return tuple(
        str(path.relative_to(data))
        for path in sorted(data.rglob("*"))
        if path.is_file() and path.stat().st_mode & OTHERS
    )


def newest_in(folder: Path) -> datetime | None:
    """When the newest file in `folder` was written; None without any."""
    if not folder.is_dir():
        return None
    written = [path.stat().st_mtime for path in folder.iterdir() if path.is_file()]
    return datetime.fromtimestamp(max(written), UTC) if written else None
