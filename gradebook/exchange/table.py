"""Tables: lines laid out into rows by their header, every fault told; CSV written safely."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from numbers import Real

from gradebook.exchange.lines import (
    LONGEST_CELL,
    Line,
    RowFault,
    UnreadableError,
    read_lines,
)

RISKY = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a spreadsheet may take for the start of a formula, in full width too."""


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row: its line in the file and its cells, trimmed, by column."""

    line: int
    cells: Mapping[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")


@dataclass(frozen=True, slots=True)
class Layout:
    """The columns a file of this name has; the required ones must all be there."""

    name: str
    required: tuple[str, ...]
    optional: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TableRead:
    """What a file held. `layout` is None when its header is of no known kind."""

    layout: Layout | None
    rows: tuple[TableRow, ...]
    faults: tuple[RowFault, ...]


def read_table(data: bytes, layouts: Sequence[Layout]) -> TableRead:
    """Read a CSV file (UTF-8, with or without a byte-order mark; comma or semicolon)."""
    try:
        return lay_out(read_lines(data), layouts)
    except UnreadableError as error:
        return TableRead(None, (), (error.fault,))


def lay_out(lines: Sequence[Line], layouts: Sequence[Layout]) -> TableRead:
    """Rows of the layout that the first line names, with every fault of header and cells."""
    (at, named), *filled = lines
    header = [name.lower().replace(" ", "_") for name in named]
    layout = next((one for one in layouts if set(one.required) <= set(header)), None)
    if layout is None:
        return TableRead(None, (), _header_faults(at, header, layouts))
    faults = [
        RowFault(at, name, f"Column {name!r} is not known; remove or rename it.")
        for name in header
        if name not in (*layout.required, *layout.optional)
    ]
    faults += [
        RowFault(at, name, f"Column {name!r} stands there twice.")
        for name in sorted({name for name in header if header.count(name) > 1})
    ]
    rows = []
    for line, cells in filled:
        faults += _cell_faults(line, cells, header)
        rows.append(TableRow(line, dict(zip(header, cells, strict=False))))
    if not rows:
        faults.append(RowFault(0, "", "There is a header but no row."))
    return TableRead(layout, tuple(rows), tuple(faults))


def _cell_faults(line: int, cells: list[str], header: list[str]) -> list[RowFault]:
    faults = [
        RowFault(line, name, f"More than {LONGEST_CELL} characters.")
        for name, cell in zip(header, cells, strict=False)
        if len(cell) > LONGEST_CELL
    ]
    if len(cells) != len(header):
        words = f"{len(cells)} cells where the header has {len(header)}."
        faults.append(RowFault(line, "", words))
    return faults


def _header_faults(
    at: int, header: list[str], layouts: Sequence[Layout]
) -> tuple[RowFault, ...]:
    nearest = max(layouts, key=lambda one: len(set(one.required) & set(header)))
    missing = ", ".join(name for name in nearest.required if name not in header)
    return (
        RowFault(
            at, "", f"Looks like {nearest.name}, but these columns are missing: {missing}."
        ),
    )


def safe_cell(value: object) -> str:
    """A cell no spreadsheet takes for a formula: text that starts like one gets a quote."""
    text = str(value)
    is_number = isinstance(value, Real)
    return f"'{text}" if text.startswith(RISKY) and not is_number else text


def write_table(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """CSV text (RFC 4180 line ends) with safe cells."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerows([safe_cell(cell) for cell in row] for row in (header, *rows))
    return out.getvalue()
