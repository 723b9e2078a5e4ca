"""What every test would make anew, made once a process and copied: schools, and templates."""

from collections.abc import Callable, Hashable
from pathlib import Path
from typing import Generic, TypeVar
from uuid import uuid4

import psycopg
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from sqlalchemy import URL, make_url

Made = TypeVar("Made")
SUPERUSER = "postgres"
"""Who may copy a database: the superuser of the tests' own cluster."""


class Compiled(BytecodeCache):
    """Templates compiled once a process, for every test opens an application of its own."""

    def __init__(self) -> None:
        self._codes: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Fill the bucket where this very source was compiled before."""
        if (code := self._codes.get(bucket.key)) is not None:
            bucket.bytecode_from_string(code)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what was compiled."""
        self._codes[bucket.key] = bucket.bytecode_to_string()


COMPILED = Compiled()


class Moulds(Generic[Made]):
    """Databases by what is in them: each made once, then copied whole."""

    def __init__(self) -> None:
        self._kept: dict[Hashable, tuple[bytes | str, Made]] = {}

    def fill(self, address: str, wanted: Hashable, make: Callable[[], Made]) -> Made:
        """Fill an empty database with what is wanted; what `make` tells of it.

        `make` leaves no connection open. On PostgreSQL only a database of the superuser is
        copied, any other is made.
        """
        url = make_url(address)
        if url.username not in {None, SUPERUSER}:
            return make()
        key = (url.port, wanted)
        if key in self._kept:
            mould, told = self._kept[key]
            _pour(url, mould)
            return told
        told = make()
        self._kept[key] = (_taken(url), told)
        return told


def _taken(url: URL) -> bytes | str:
    """The mould of a database: its file's bytes, or the name of a copy."""
    if url.get_backend_name() == "sqlite":
        return Path(str(url.database)).read_bytes()
    name = f"mould_{uuid4().hex}"
    _execute(url, f"CREATE DATABASE {name} TEMPLATE {url.database}")
    return name


def _pour(url: URL, mould: bytes | str) -> None:
    if isinstance(mould, bytes):
        Path(str(url.database)).write_bytes(mould)
        return
    _execute(url, f"DROP DATABASE {url.database}")
    _execute(url, f"CREATE DATABASE {url.database} TEMPLATE {mould}")


def _execute(url: URL, statement: str) -> None:
    """Run one statement beside the database, outside any transaction."""
    beside = url.set(drivername="postgresql", database="postgres")
    with psycopg.connect(beside.render_as_string(), autocommit=True) as connection:
        connection.execute(statement.encode())
