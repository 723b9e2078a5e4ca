"""What a database holds, counted: the proof that a migration or a copy lost nothing."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from sqlalchemy import Connection, func, inspect, select, table


@dataclass(frozen=True, slots=True)
class Tally:
    """Rows of each table, and the names of its columns."""

    rows: Mapping[str, int]
    columns: Mapping[str, Collection[str]]


def tally(connection: Connection) -> Tally:
    """Count every table but Alembic's own."""
    found = inspect(connection)
    names = sorted(set(found.get_table_names()) - {"alembic_version"})
    return Tally(
        rows={
            name: connection.scalar(select(func.count()).select_from(table(name))) or 0
            for name in names
        },
        columns={
            name: frozenset(column["name"] for column in found.get_columns(name))
            for name in names
        },
    )


def lost(before: Tally, after: Tally, declared: Collection[str] = ()) -> list[str]:
    """Tables, columns and rows that are there no more, but for those `declared` by name."""
    faults = []
    for name, rows in before.rows.items():
        if name in declared:
            continue
        if name not in after.rows:
            faults.append(f"the table {name} is gone")
            continue
        if after.rows[name] < rows:
            faults.append(f"{name} had {rows} rows and has {after.rows[name]}")
        gone = sorted(set(before.columns[name]) - set(after.columns[name]))
        faults += [
            f"the column {name}.{column} is gone"
            for column in gone
            if f"{name}.{column}" not in declared
        ]
    return faults
