"""The guards as SQLite triggers.

`RAISE(ABORT)` undoes the statement. REPLACE deletes the row in its way without asking the
delete trigger unless `recursive_triggers` is on, so the insert trigger looks for that row too.
"""

from collections.abc import Mapping, Sequence

from sqlalchemy import Connection

from gradebook.records.guards.plan import Growth, Guard, Next, changed, deleted, words

PREFIX = "guard_"


def wanted(_: Connection, guards: Mapping[Guard, Sequence[str]]) -> dict[str, str]:
    """Name to text of every trigger, for tables with these columns."""
    found = {}
    for guard, columns in guards.items():
        for name, when, condition in _triggers(guard, columns):
            act = name.split("_")[0]
            found[f"{PREFIX}{guard.table}_{name}"] = _text(guard, name, when, condition, act)
    return found


def _text(guard: Guard, name: str, when: str, condition: str, act: str) -> str:
    only = f" WHEN {condition}" if condition else ""
    return (
        f'CREATE TRIGGER "{PREFIX}{guard.table}_{name}" {when} ON "{guard.table}"{only}'
        f" BEGIN SELECT RAISE(ABORT, '{words(act, guard.table)}'); END"
    )


def _triggers(guard: Guard, columns: Sequence[str]) -> list[tuple[str, str, str]]:
    """(name, moment, condition) of each trigger of one table."""
    frozen = [name for name in columns if name not in guard.may_change]
    differs = " OR ".join(f'NEW."{name}" IS NOT OLD."{name}"' for name in frozen)
    found = [
        ("insert", "BEFORE INSERT", _misplaced(guard)),
        ("update", "BEFORE UPDATE", changed(differs, guard)),
        ("delete", "BEFORE DELETE", deleted(guard)),
    ]
    if guard.growth and guard.growth.next is Next.DRAWN:
        found.append(("insert_drawn", "AFTER INSERT", _gap(guard.table, guard.growth)))
    return found


def _misplaced(guard: Guard) -> str:
    """An insert in the place of another row, or not at the end."""
    table = guard.table
    parts = [
        f'EXISTS (SELECT 1 FROM "{table}" WHERE "{key}" = NEW."{key}")'
        for key in ("rowid", *guard.keys)
    ]
    if (growth := guard.growth) is None:
        return " OR ".join(parts)
    newest = f'(SELECT coalesce(max("{growth.column}"), 0) FROM "{table}")'
    if growth.next is Next.FOLLOWS:
        parts.append(f'NEW."{growth.column}" IS NOT {newest} + 1')
    elif growth.next is Next.GROWS:
        parts.append(f'NEW."{growth.column}" <= {newest}')
    else:  # -1: not drawn yet
        parts.append(f'NEW."{growth.column}" NOT IN (-1, {newest} + 1)')
    if growth.link:
        link, linked = growth.link
        parts.append(
            f'NEW."{link}" IS NOT (SELECT "{linked}" FROM "{table}"'
            f' WHERE "{growth.column}" = NEW."{growth.column}" - 1)'
        )
    return " OR ".join(parts)


def _gap(table: str, growth: Growth) -> str:
    """A number that was drawn does not follow the one before."""
    column = f'"{growth.column}"'
    return (
        f"NEW.{column} < 1 OR (NEW.{column} > 1 AND NOT EXISTS"
        f' (SELECT 1 FROM "{table}" WHERE {column} = NEW.{column} - 1))'
    )


def there(connection: Connection) -> dict[str, str]:
    """Name to text of every trigger the database has."""
    rows = connection.exec_driver_sql(
        "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        " UNION ALL SELECT name, sql FROM sqlite_temp_master WHERE type = 'trigger'"
    )
    return {row[0]: row[1] for row in rows}


def create(connection: Connection, guards: Mapping[Guard, Sequence[str]]) -> None:
    """Create every trigger."""
    for text in wanted(connection, guards).values():
        connection.exec_driver_sql(text)


def drop(connection: Connection) -> None:
    """Drop every trigger of ours."""
    for name in there(connection):
        if name.startswith(PREFIX):
            connection.exec_driver_sql(f'DROP TRIGGER "{name}"')
