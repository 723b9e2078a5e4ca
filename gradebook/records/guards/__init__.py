"""The guards of the database: what `plan` says, as triggers of the database at hand.

They are taken away before a migration and put back after it, in the same transaction (a table
that SQLite rebuilds loses its triggers), and compared word for word before a school is served.
"""

from collections.abc import Sequence
from types import ModuleType

from sqlalchemy import Connection, inspect

from gradebook.records.guards import postgres, sqlite
from gradebook.records.guards.plan import GUARDS, Guard

__all__ = ["GUARDS", "Guard", "install", "missing", "remove"]


def _side(connection: Connection) -> ModuleType:
    return sqlite if connection.dialect.name == "sqlite" else postgres


def _guarded(connection: Connection) -> dict[Guard, Sequence[str]]:
    """The guards whose tables are there, each with its table's columns."""
    found = inspect(connection)
    tables = set(found.get_table_names())
    return {
        guard: [column["name"] for column in found.get_columns(guard.table)]
        for guard in GUARDS
        if guard.table in tables
    }


def install(connection: Connection) -> None:
    """Put every guard in place anew, inside the caller's transaction."""
    side = _side(connection)
    side.drop(connection)
    side.create(connection, _guarded(connection))


def remove(connection: Connection) -> None:
    """Take every guard away, inside the caller's transaction."""
    _side(connection).drop(connection)


def missing(connection: Connection) -> list[str]:
    """What differs from the guards that should be there, in words; empty when nothing does."""
    side = _side(connection)
    wanted = side.wanted(connection, _guarded(connection))
    there = side.there(connection)
    return [
        *(f"{name} is missing" for name in wanted if name not in there),
        *(
            f"{name} was changed"
            for name, text in wanted.items()
            if there.get(name, text) != text
        ),
        *(f"{name} is not known" for name in there if name not in wanted),
    ]
