"""A copy of a whole database while people work in it, and back."""

import os
import shutil
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Engine, create_engine, inspect, make_url
from sqlalchemy.exc import DBAPIError

from gradebook.records.database import open_engine, plain_file
from gradebook.records.keeping.manifest import BackupError
from gradebook.records.schema import revision_of
from gradebook.records.tally import Tally, tally

PROGRAMS = "usr/lib/postgresql/*/bin"
"""Where Debian keeps PostgreSQL's own programs when they are not on the path."""


def copy_database(engine: Engine, target: Path) -> tuple[Tally, str]:
    """Write one consistent copy to `target`; what it holds, and its schema revision.

    BackupError when the database has no schema, is damaged, or its tool is missing.
    """
    if engine.dialect.name == "sqlite":
        return _copy_sqlite(engine, target)
    return _dump_postgres(engine, target)


def _copy_sqlite(engine: Engine, target: Path) -> tuple[Tally, str]:
    """One step: a copy page by page starts anew at every commit of another process."""
    with engine.connect() as connection, closing(plain_file(target)) as copy:
        source: Any = connection.connection.driver_connection
        source.backup(copy)
        said = copy.execute("PRAGMA quick_check(1)").fetchone()[0]
    if said != "ok":
        raise BackupError(f"The database is damaged: {said}")
    copied = open_engine(f"sqlite:///{target}")
    try:
        return contents(copied)
    finally:
        copied.dispose()


def contents(engine: Engine) -> tuple[Tally, str]:
    """What a database holds, and its schema revision; BackupError for an empty one."""
    with engine.connect() as connection:
        revision = revision_of(connection)
        if revision is None:
            raise BackupError("There is no school here yet.")
        return tally(connection), revision


def _dump_postgres(engine: Engine, target: Path) -> tuple[Tally, str]:
    """Counts and dump see the same snapshot."""
    program = _program("pg_dump")
    with engine.connect().execution_options(isolation_level="REPEATABLE READ") as connection:
        snapshot = connection.exec_driver_sql("SELECT pg_export_snapshot()").scalar_one()
        revision, held = revision_of(connection), tally(connection)
        if revision is None:
            raise BackupError("There is no school here yet.")
        options = ("--format=custom", "--compress=0", "--no-owner", "--no-privileges")
        _run(engine.url, [program, *options, f"--snapshot={snapshot}", f"--file={target}"])
    return held, revision


def load_postgres(url: str, dump: Path) -> None:
    """Fill an empty database from a dump, whole or not at all; else BackupError."""
    engine = create_engine(url)
    tables = inspect(engine).get_table_names()
    engine.dispose()
    if tables:
        raise BackupError("The database that WINDTEE_DATABASE names is not empty.")
    options = ("--no-owner", "--no-privileges", "--exit-on-error", "--single-transaction")
    _run(make_url(url), [_program("pg_restore"), *options, str(dump)])


def _found(name: str) -> str | None:
    newest = sorted(Path("/").glob(f"{PROGRAMS}/{name}"), key=lambda path: int(path.parts[4]))
    return shutil.which(name) or (str(newest[-1]) if newest else None)


def _program(name: str) -> str:
    found = _found(name)
    if found is None:
        raise BackupError(f"{name} is missing: install PostgreSQL's client programs.")
    return found


def _run(url: URL, command: Sequence[str]) -> None:
    """Run one of PostgreSQL's programs; the secret goes by the environment, seen by nobody."""
    address = url.set(drivername="postgresql", password=None).render_as_string()
    secret = {"PGPASSWORD": str(url.password)} if url.password else {}
    done = subprocess.run(  # noqa: S603 - our own words
        [*command, f"--dbname={address}"],
        env={**os.environ, **secret},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise BackupError(f"{Path(command[0]).name} failed: {done.stderr.strip()}")


@contextmanager
def scratch_postgres(url: str, name: str) -> Iterator[str]:
    """The address of a new empty database beside this one, dropped afterwards.

    BackupError when the role may not create one.
    """
    engine = create_engine(url, isolation_level="AUTOCOMMIT")
    try:
        with engine.connect() as connection:
            connection.exec_driver_sql(f"CREATE DATABASE {name}")
    except DBAPIError as fault:
        engine.dispose()
        raise BackupError(
            f"The role {engine.url.username} may not create the scratch database of a drill: "
            "give it CREATEDB, or name one that may in WINDTEE_DATABASE_OWNER."
        ) from fault
    try:
        yield engine.url.set(database=name).render_as_string(hide_password=False)
    finally:
        with engine.connect() as connection:
            connection.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")
        engine.dispose()
