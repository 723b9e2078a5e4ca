"""The database: how connections behave, and the two kinds of transaction.

SQLite: `BEGIN IMMEDIATE` for writes (the driver's default loses racing updates), FULL
synchronous, foreign keys on. Write-ahead logging only where the linked SQLite is free of the
WAL-reset race (3.51.3 and later, 3.50.7, 3.44.6); else the rollback journal.
"""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from weakref import WeakSet

from sqlalchemy import Connection, Engine, Pool, create_engine, event, func, select, text
from sqlalchemy.exc import DBAPIError, OperationalError
from sqlalchemy.orm import Session

from gradebook.records.faults import BusyError, DiskError, FullError, RecordsError
from gradebook.records.remembering import Memories

if sys.platform == "linux" or sys.platform == "darwin":
    try:
        from pysqlite3 import dbapi2 as sqlite
    except ImportError:  # no wheel for this machine: the standard library's will do
        import sqlite3 as sqlite
else:
    import sqlite3 as sqlite

WRITER = 0x57494E44
"""The number of the lock that makes writers on PostgreSQL wait for one another."""
FAULTS = (DBAPIError, sqlite.Error)
"""What a database raises, through SQLAlchemy or without it."""
WAIT_SECONDS = 15
"""How long a transaction waits for its turn: half of what the server gives a request."""
BUSY = "The database is busy: nothing of this was stored. Send it again in a moment."
FULL = 2
"""What `PRAGMA synchronous` answers when every commit reaches the disk."""

_OPEN: WeakSet[Engine] = WeakSet()
_INHERITED: list[Pool] = []
"""Pools of a parent process: kept, so that nothing here closes what is still in use there."""

_REFUSED = {
    getattr(sqlite, f"SQLITE_{name}")
    for name in (
        *("DROP_TRIGGER", "DROP_TABLE", "ALTER_TABLE", "DROP_INDEX"),
        *("CREATE_TRIGGER", "CREATE_TEMP_TRIGGER", "CREATE_TEMP_TABLE", "ATTACH"),
    )
}
_REFUSED_PRAGMAS = {
    *("writable_schema", "recursive_triggers", "ignore_check_constraints"),
    *("synchronous", "journal_mode", "trusted_schema", "schema_version"),
}


def _begin_anew() -> None:
    """In a forked process: no connection is shared with the parent."""
    for engine in list(_OPEN):
        _INHERITED.append(engine.pool)
        engine.dispose(close=False)


if sys.platform != "win32":
    os.register_at_fork(after_in_child=_begin_anew)


def wal_is_safe(version: tuple[int, ...]) -> bool:
    """Whether this SQLite version is free of the WAL-reset race."""
    return (
        version >= (3, 51, 3)
        or (3, 50, 7) <= version < (3, 51)
        or (3, 44, 6) <= version < (3, 45)
    )


class UnsafeError(Exception):
    """A connection would not keep what it was given; the words say which setting failed."""


def _prepare_sqlite(connection: Any, _record: object) -> None:  # noqa: ANN401 - DBAPI
    connection.isolation_level = None
    journal = "wal" if wal_is_safe(sqlite.sqlite_version_info) else "delete"
    connection.execute(f"PRAGMA busy_timeout={int(WAIT_SECONDS * 1000)}")
    for pragma, value, wanted in (
        ("journal_mode", journal, {journal, "memory"}),
        ("synchronous", "FULL", {FULL}),
        ("foreign_keys", "ON", {1}),
        ("recursive_triggers", "ON", {1}),
    ):
        connection.execute(f"PRAGMA {pragma}={value}")
        if connection.execute(f"PRAGMA {pragma}").fetchone()[0] not in wanted:
            raise UnsafeError(f"SQLite does not keep {pragma}={value} on this disk.")
    connection.set_authorizer(_authorize)


def _authorize(action: int, first: str | None, second: str | None, *_: object) -> int:
    """Refuse what no page needs and what would lift the guards; asked when SQL is compiled."""
    pragma = action == sqlite.SQLITE_PRAGMA and second is not None
    refused = first in _REFUSED_PRAGMAS if pragma else action in _REFUSED
    return int(sqlite.SQLITE_DENY if refused else sqlite.SQLITE_OK)


def _begin_sqlite(connection: Connection) -> None:
    options = connection.get_execution_options()
    reading = options.get("reading", False)
    if options.get("hasty", False):
        connection.exec_driver_sql("PRAGMA busy_timeout=0")
    if reading:
        connection.exec_driver_sql("PRAGMA query_only=ON")
    connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")


def _allow_writing(connection: Any, _record: object) -> None:  # noqa: ANN401 - DBAPI
    """Hand a connection back as it came: the next transaction may write, and waits for it."""
    if connection is not None:
        connection.execute(f"PRAGMA busy_timeout={int(WAIT_SECONDS * 1000)}")
        connection.execute("PRAGMA query_only=OFF")


def open_engine(url: str) -> Engine:
    """An engine for a SQLAlchemy URL of SQLite or PostgreSQL (through psycopg).

    A new SQLite file is its owner's alone.
    """
    if not url.startswith("sqlite"):
        wait = {"options": f"-c lock_timeout={int(WAIT_SECONDS * 1000)}"}
        engine = create_engine(url, pool_pre_ping=True, connect_args=wait)
        _OPEN.add(engine)
        return engine
    engine = create_engine(url, module=sqlite)
    _OPEN.add(engine)
    if engine.url.database not in (None, "", ":memory:"):
        make_private(Path(str(engine.url.database)))
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    event.listen(engine, "checkin", _allow_writing)
    return engine


def plain_file(file: Path) -> Any:  # noqa: ANN401 - DBAPI
    """A bare connection to a SQLite file, without our settings and guards."""
    make_private(file)
    return sqlite.connect(file)


def make_private(file: Path) -> None:
    """Make an empty file that only its owner can read, unless it is there already."""
    if not file.exists():
        os.close(os.open(file, os.O_WRONLY | os.O_CREAT, 0o600))


@contextmanager
def migrating(engine: Engine, *, bound: bool = False) -> Iterator[Connection]:
    """A connection that may change the schema: on SQLite no guard and no foreign keys.

    One that is `bound` keeps to foreign keys all the same.
    """
    with engine.connect() as connection:
        raw: Any = connection.connection.dbapi_connection
        if engine.dialect.name != "sqlite":
            yield connection
            return
        raw.set_authorizer(None)
        raw.execute(f"PRAGMA foreign_keys={'ON' if bound else 'OFF'}")
        try:
            yield connection
        finally:
            raw.execute("PRAGMA foreign_keys=ON")
            raw.set_authorizer(_authorize)


def trouble(fault: DBAPIError) -> RecordsError | None:
    """The fault as one a person can wait out or clear; None for any other."""
    state, said = getattr(fault.orig, "sqlstate", None) or "", str(fault.orig)
    if state in {"53100", "53200"} or "database or disk is full" in said:
        return FullError(
            "The disk of the server is full: nothing of this was stored, and what was stored "
            "before stays. Keep this page open and tell whoever runs the server."
        )
    if state == "58030" or "disk I/O error" in said:
        return DiskError(
            "The disk of the server failed: nothing of this was stored. Keep this page "
            "open and tell whoever runs the server."
        )
    unreached = isinstance(fault, OperationalError) and fault.statement is None
    busy = state in {"55P03", "40P01", "40001", "53300", "57P01", "57P03"}
    if busy or "database is locked" in said or fault.connection_invalidated or unreached:
        return BusyError(BUSY)
    return None


_SNAPSHOT: dict[str, dict[str, Any]] = {
    "sqlite": {},
    "postgresql": {"postgresql_readonly": True, "isolation_level": "REPEATABLE READ"},
}
"""How a reader sees one moment: by SQLite's nature, on PostgreSQL when it asks for that."""

MEMORY = "memory"
"""Where the session of a reader holds what readers keep."""


class Database:
    """Transactions on one database: `write` commits at its end or not at all, `read` never.

    Both raise BusyError, DiskError or FullError when the database cannot take it now.
    """

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self._reading = engine.execution_options(reading=True, **_SNAPSHOT[engine.dialect.name])
        self._hasty = engine.execution_options(hasty=True)
        self._known = {MEMORY: Memories()}

    @contextmanager
    def write(self, *, waits: bool = True) -> Iterator[Session]:
        """A transaction that is committed when the block ends, rolled back when it raises.

        Writers come one after another, on PostgreSQL by a lock as on SQLite by its nature:
        the ends of the ledger and of the audit trail belong to whoever writes. One that does
        not wait raises BusyError at once while somebody else writes.
        """
        with (
            _told(),
            Session(self.engine if waits else self._hasty, expire_on_commit=False) as session,
            session.begin(),
        ):
            if self.engine.dialect.name == "postgresql":
                _take_turn(session, waits=waits)
            elif not waits:
                session.connection()  # asks for the turn now
            yield session

    @contextmanager
    def read(self) -> Iterator[Session]:
        """A transaction that only reads: the database itself refuses to change anything.

        All of it sees one moment, whatever is committed meanwhile, and remembers what the
        readers before it have kept.
        """
        with (
            _told(),
            Session(
                self._reading, expire_on_commit=False, autoflush=False, info=self._known
            ) as session,
        ):
            yield session


def _take_turn(session: Session, *, waits: bool) -> None:
    """Wait for the lock of writers, or raise BusyError where it is not to be had at once."""
    if not waits:
        if not session.scalar(select(func.pg_try_advisory_xact_lock(WRITER))):
            raise BusyError(BUSY)
        return
    session.execute(text(f"SET LOCAL lock_timeout = '{WAIT_SECONDS}s'"))
    session.execute(select(func.pg_advisory_xact_lock(WRITER)))


@contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except DBAPIError as fault:
        known = trouble(fault)
        if known is None:
            raise
        raise known from fault
