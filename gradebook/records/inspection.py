"""Looking an installation over: its database, its folder, its clocks. Nothing is changed."""

import os
import re
import shutil
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import func, select, text
from sqlalchemy.orm import Session

from gradebook import demo_accounts
from gradebook.records.database import wal_is_safe
from gradebook.records.soundness import (
    KEPT_ON,
    Clocks,
    Facts,
    Folder,
    Postgres,
    Serving,
    Sqlite,
)
from gradebook.records.store import needles
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.people import Person
from gradebook.settings import Settings

MOUNTS = Path("/proc/mounts")
BACKUPS = "backups"
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
        folder=_folder(settings.data, Path(file).parent if file else settings.data),
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
        needles=needles.outdated(session),
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


def _folder(data: Path, of_database: Path) -> Folder:
    usage = shutil.disk_usage(of_database)
    mounts = MOUNTS.read_text() if MOUNTS.exists() else ""
    return Folder(
        filesystem=filesystem_of(of_database.resolve(), mounts),
        open_files=open_files(data),
        free=usage.free,
        size=usage.total,
        backed_up=newest_in(data / BACKUPS),
    )


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
