"""CSV tables: read into rows with their line numbers, every fault told; written safely."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

MOST_ROWS = 100_000
LONGEST_CELL = 4000
RISKY = ("=", "+", "-", "@", "\t", "\r", "\0")


@dataclass(frozen=True, slots=True)
class RowFault:
    """What is wrong at a line of the file (line 1 is the header; 0 the file as a whole)."""

    line: int
    column: str
    words: str


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
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        return _nothing(line, "", "This is not UTF-8. Save the file as CSV UTF-8.")
    if "\0" in text:
        return _nothing(0, "", "This is not a text file. Save the sheet as CSV UTF-8.")
    first = text.partition("\n")[0]
    delimiter = ";" if first.count(";") > first.count(",") else ","
    try:
        lines = list(_numbered(text, delimiter))
    except csv.Error as error:
        return _nothing(0, "", f"The file cannot be read as CSV: {error}.")
    if not lines:
        return _nothing(0, "", "The file is empty.")
    return _rows(lines, layouts)


def _numbered(text: str, delimiter: str) -> Iterable[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    start = 1
    for cells in reader:
        if any(cell.strip() for cell in cells):
            yield start, [cell.strip() for cell in cells]
        start = reader.line_num + 1


def _rows(lines: list[tuple[int, list[str]]], layouts: Sequence[Layout]) -> TableRead:
    header = [name.lower().replace(" ", "_") for name in lines[0][1]]
    layout = next((one for one in layouts if set(one.required) <= set(header)), None)
    if layout is None:
        return TableRead(None, (), _header_faults(header, layouts))
    faults = [
        RowFault(1, name, f"Column {name!r} is not known; remove or rename it.")
        for name in header
        if name not in (*layout.required, *layout.optional)
    ]
    faults += [
        RowFault(1, name, f"Column {name!r} stands there twice.")
        for name in sorted({name for name in header if header.count(name) > 1})
    ]
    if len(lines) - 1 > MOST_ROWS:
        faults.append(RowFault(0, "", f"More than {MOST_ROWS} rows: split the file."))
    rows = []
    for line, cells in lines[1 : MOST_ROWS + 1]:
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


def _header_faults(header: list[str], layouts: Sequence[Layout]) -> tuple[RowFault, ...]:
    nearest = max(layouts, key=lambda one: len(set(one.required) & set(header)))
    missing = ", ".join(name for name in nearest.required if name not in header)
    return (
        RowFault(
            1, "", f"Looks like {nearest.name}, but these columns are missing: {missing}."
        ),
    )


def _nothing(line: int, column: str, words: str) -> TableRead:
    return TableRead(None, (), (RowFault(line, column, words),))


def safe_cell(value: object) -> str:
    """A cell no spreadsheet takes for a formula: text that starts like one gets a quote."""
    text = str(value)
    is_number = isinstance(value, int | float)
    return f"'{text}" if text.startswith(RISKY) and not is_number else text


def write_table(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """CSV text (RFC 4180 line ends) with safe cells."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([safe_cell(cell) for cell in row] for row in rows)
    return out.getvalue()
