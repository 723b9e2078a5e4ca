"""The lines of a CSV file with their numbers, within limits; what cannot be read is told."""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

MOST_ROWS = 100_000
MOST_COLUMNS = 200
LONGEST_CELL = 4000

Line = tuple[int, list[str]]
"""Number of a line (the first is 1; of a cell over several lines, where it begins), cells."""


@dataclass(frozen=True, slots=True)
class RowFault:
    """What is wrong at a line of the file (line 1 is the header; 0 the file as a whole)."""

    line: int
    column: str
    words: str


class UnreadableError(Exception):
    """The file is no table that can be read; `fault` says where and why."""

    def __init__(self, line: int, words: str) -> None:
        super().__init__(words)
        self.fault = RowFault(line, "", words)


def read_lines(data: bytes) -> list[Line]:
    """Lines with anything in them, cells trimmed (UTF-8, marked or not; comma or semicolon).

    UnreadableError names the line of what is not text, not CSV, or too much.
    """
    text = _text(data)
    first = text.partition("\n")[0]
    delimiter = ";" if first.count(";") > first.count(",") else ","
    lines: list[Line] = []
    for line, cells in _numbered(text, delimiter):
        if len(cells) > MOST_COLUMNS:
            raise UnreadableError(line, f"More than {MOST_COLUMNS} columns.")
        if len(lines) > MOST_ROWS:
            raise UnreadableError(line, f"More than {MOST_ROWS} rows: split the file.")
        lines.append((line, cells))
    if not lines:
        raise UnreadableError(0, "The file is empty.")
    return lines


def _text(data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        words = "This is not UTF-8. Save the file as CSV UTF-8."
        raise UnreadableError(line, words) from error
    if (at := text.find("\0")) >= 0:
        words = "This is not text: it holds a NUL character. Save the sheet as CSV UTF-8."
        raise UnreadableError(text.count("\n", 0, at) + 1, words)
    return text


def _numbered(text: str, delimiter: str) -> Iterator[Line]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    start = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield start, [cell.strip() for cell in cells]
            start = reader.line_num + 1
    except csv.Error as error:
        raise UnreadableError(start, f"This cannot be read as CSV: {error}.") from error
