"""Aligning what was done with what should have been done: optimal string alignment.

The distance counts things left out, put in, taken for one another, and neighbours swapped; no
part is edited twice (the restricted form of Damerau's distance).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum


class Edit(Enum):
    """How a place in one sequence relates to the other."""

    KEPT = "kept"
    LEFT_OUT = "left out"
    PUT_IN = "put in"
    SWAPPED = "swapped with its neighbour"
    OTHER = "another in its place"


@dataclass(frozen=True, slots=True)
class Step:
    """One step of an alignment, with what was expected and what was done there.

    `SWAPPED` holds the two expected in order in `expected` and `done`: the second came first.
    """

    edit: Edit
    expected: str | None
    done: str | None


def distance(expected: Sequence[str], done: Sequence[str]) -> int:
    """Fewest edits that turn one sequence into the other."""
    return _costs(expected, done)[-1][-1]


def steps(expected: Sequence[str], done: Sequence[str]) -> tuple[Step, ...]:
    """One alignment of least cost, in order; keeping is preferred, then swapping."""
    costs, found = _costs(expected, done), []
    i, j = len(expected), len(done)
    while i or j:
        edit = _last_edit(costs, expected, done, i, j)
        if edit is Edit.SWAPPED:
            found.append(Step(edit, expected[i - 2], expected[i - 1]))
            i, j = i - 2, j - 2
            continue
        back, forth = edit is not Edit.PUT_IN, edit is not Edit.LEFT_OUT
        found.append(
            Step(edit, expected[i - 1] if back else None, done[j - 1] if forth else None)
        )
        i, j = i - back, j - forth
    return tuple(reversed(found))


def _costs(expected: Sequence[str], done: Sequence[str]) -> list[list[int]]:
    """Least cost of aligning each start of one sequence with each start of the other."""
    rows = [list(range(len(done) + 1))]
    for i in range(1, len(expected) + 1):
        row = [i]
        for j in range(1, len(done) + 1):
            other = expected[i - 1] != done[j - 1]
            cost = min(rows[i - 1][j] + 1, row[j - 1] + 1, rows[i - 1][j - 1] + other)
            if _crossed(expected, done, i, j):
                cost = min(cost, rows[i - 2][j - 2] + 1)
            row.append(cost)
        rows.append(row)
    return rows


def _crossed(expected: Sequence[str], done: Sequence[str], i: int, j: int) -> bool:
    return (
        i > 1
        and j > 1
        and expected[i - 1] == done[j - 2]
        and expected[i - 2] == done[j - 1]
        and expected[i - 1] != expected[i - 2]
    )


def _last_edit(
    costs: list[list[int]], expected: Sequence[str], done: Sequence[str], i: int, j: int
) -> Edit:
    """The edit that ends a cheapest alignment of the first i with the first j."""
    cost = costs[i][j]
    if i and j and expected[i - 1] == done[j - 1] and cost == costs[i - 1][j - 1]:
        return Edit.KEPT
    if _crossed(expected, done, i, j) and cost == costs[i - 2][j - 2] + 1:
        return Edit.SWAPPED
    if i and cost == costs[i - 1][j] + 1:
        return Edit.LEFT_OUT
    if j and cost == costs[i][j - 1] + 1:
        return Edit.PUT_IN
    return Edit.OTHER
