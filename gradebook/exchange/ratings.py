"""Ratings as a CSV table: one row a unit, one column a rater, blanks for no grade."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite

from gradebook.exchange.lines import RowFault, UnreadableError, read_lines

UNIT = "unit"


@dataclass(frozen=True, slots=True)
class Ratings:
    """What a file held, as typed: `cells[unit][rater]`, "" where nothing was given."""

    units: tuple[str, ...]
    raters: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]
    faults: tuple[RowFault, ...]


def read_ratings(data: bytes, *, numeric: bool) -> Ratings:
    """Read ratings (UTF-8; comma or semicolon), every fault told with its line and column.

    The first line names the raters; a first column called `unit` names the units, which are
    numbered otherwise. Empty lines are passed over. `numeric`: grades must be numbers.
    """
    try:
        (at, header), *rows = read_lines(data)
    except UnreadableError as error:
        return Ratings((), (), (), (error.fault,))
    named = header[0].lower() == UNIT
    faults = [*_header_faults(at, header, named), *_row_faults(rows, header)]
    if numeric:
        faults += _number_faults(rows, header, named)
    return Ratings(
        units=tuple(cells[0] if named else str(n) for n, (_, cells) in enumerate(rows, 1)),
        raters=tuple(header[named:]),
        cells=tuple(tuple(cells[named:]) for _, cells in rows),
        faults=tuple(sorted(faults, key=lambda fault: fault.line)),
    )


def _header_faults(at: int, header: Sequence[str], named: bool) -> Iterator[RowFault]:
    if len(header) == named:
        yield RowFault(at, "", "there is no column of a rater")
    for place, name in enumerate(header):
        if not name:
            yield RowFault(at, "", f"column {place + 1} has no name")
        elif name in header[:place]:
            yield RowFault(at, name, "this name stands there twice")


def _row_faults(
    rows: Sequence[tuple[int, list[str]]], header: Sequence[str]
) -> Iterator[RowFault]:
    for line, cells in rows:
        if len(cells) != len(header):
            yield RowFault(line, "", f"{len(cells)} cells where the header has {len(header)}")


def _number_faults(
    rows: Sequence[tuple[int, list[str]]], header: Sequence[str], named: bool
) -> Iterator[RowFault]:
    for line, cells in rows:
        for name, cell in list(zip(header, cells, strict=False))[named:]:
            if cell and not _is_number(cell):
                yield RowFault(line, name, f'"{cell}" is not a number')


def _is_number(cell: str) -> bool:
    try:
        return isfinite(float(cell))
    except ValueError:
        return False
