"""The ledger's checkpoints that lie outside the database, and what a database lacks by them.

A checkpoint is a signed note: a line that names the ledger, its size, its root, then the
signatures.
"""

from collections.abc import Iterable

from sqlalchemy import Connection, column, inspect, select, table

LEDGER = table("ledger_entry", column("seq"))


def size_of(text: str) -> int:
    """How many entries a checkpoint vouches for; 0 for a text that is none."""
    lines = text.splitlines()
    return int(lines[1]) if len(lines) > 2 and lines[1].isdecimal() else 0


def newest(texts: Iterable[str]) -> str:
    """The checkpoint of the largest ledger; empty when there is none."""
    return max(texts, key=size_of, default="")


def lacking(connection: Connection, size: int) -> list[int]:
    """The sequence numbers up to `size` that the ledger of a database does not hold."""
    if not size:
        return []
    there: set[int] = set()
    if inspect(connection).has_table(LEDGER.name):
        there = set(connection.scalars(select(LEDGER.c.seq)))
    return [number for number in range(1, size + 1) if number not in there]


def ranges(numbers: Iterable[int]) -> str:
    """Sorted numbers in words: `3, 7-9`."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and runs[-1][1] == number - 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(f"{low}" if low == high else f"{low}-{high}" for low, high in runs)
