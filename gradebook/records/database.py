"""The database: how connections behave, and the two kinds of transaction.

SQLite: `BEGIN IMMEDIATE` for writes (the driver's default loses racing updates), FULL
synchronous, foreign keys on. Write-ahead logging only where the linked SQLite is free of the
WAL-reset race (3.51.3 and later, 3.50.7, 3.44.6); else the rollback journal.
"""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, func, select
from sqlalchemy.orm import Session

if sys.platform == "linux" or sys.platform == "darwin":
    try:
        from pysqlite3 import dbapi2 as sqlite
    except ImportError:  # no wheel for this machine: the standard library's will do
        import sqlite3 as sqlite
else:
    import sqlite3 as sqlite

WAIT_SECONDS = 30
WRITER = 0x57494E44
"""The number of the lock that makes writers on PostgreSQL wait for one another."""


def wal_is_safe(version: tuple[int, ...]) -> bool:
    """Whether this SQLite version is free of the WAL-reset race."""
    return (
        version >= (3, 51, 3)
        or (3, 50, 7) <= version < (3, 51)
        or (3, 44, 6) <= version < (3, 45)
    )


def _prepare_sqlite(connection: Any, _record: object) -> None:  # noqa: ANN401 - DBAPI
    connection.isolation_level = None
    journal = "WAL" if wal_is_safe(sqlite.sqlite_version_info) else "DELETE"
    for pragma in (
        f"journal_mode={journal}",
        "synchronous=FULL",
        "foreign_keys=ON",
        f"busy_timeout={WAIT_SECONDS * 1000}",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    reading = connection.get_execution_options().get("reading", False)
    connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")


def open_engine(url: str) -> Engine:
    """An engine for a SQLAlchemy URL of SQLite or PostgreSQL (through psycopg)."""
    if not url.startswith("sqlite"):
        return create_engine(url, pool_pre_ping=True)
    engine = create_engine(url, module=sqlite)
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


class Database:
    """Transactions on one database: `write` commits at its end or not at all, `read` never."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self._reading = engine.execution_options(reading=True)

    @contextmanager
    def write(self) -> Iterator[Session]:
        """A transaction that is committed when the block ends, rolled back when it raises.

        Writers come one after another, on PostgreSQL by a lock as on SQLite by its nature:
        the ends of the ledger and of the audit trail belong to whoever writes.
        """
        with Session(self.engine, expire_on_commit=False) as session, session.begin():
            if self.engine.dialect.name == "postgresql":
                session.execute(select(func.pg_advisory_xact_lock(WRITER)))
            yield session

    @contextmanager
    def read(self) -> Iterator[Session]:
        """A transaction that only reads; whatever it changed is thrown away."""
        with Session(self._reading, expire_on_commit=False, autoflush=False) as session:
            yield session
