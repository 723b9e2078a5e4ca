"""The child that reads a workbook: bytes on standard input, its lines as JSON on the output.

It runs as a process of its own (`workbook` starts it), with little memory and time, no files
to write and none of the server's secrets, since what it reads may be made to break it.
"""

import io
import json
import math
import sys
from collections.abc import Iterator
from dataclasses import asdict
from datetime import date, datetime, time, timedelta
from typing import Any
from zipfile import BadZipFile

import openpyxl
from openpyxl.utils.exceptions import InvalidFileException

from gradebook.exchange.archive import MOST_OUT, ArchiveError, check_archive
from gradebook.exchange.lines import (
    MOST_COLUMNS,
    MOST_ROWS,
    Line,
    RowFault,
    UnreadableError,
)

if sys.platform != "win32":
    import resource

MEMORY = 512 * 1024 * 1024
SECONDS = 20
NO_MEMORY = 3
DAMAGED = (BadZipFile, InvalidFileException, KeyError, ValueError, TypeError, SyntaxError)
BROKEN = "This is not an .xlsx workbook, or it is damaged."


def confine() -> None:
    """Take away memory, time and the writing of files, where the system can."""
    if sys.platform == "win32":
        return
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))


def read_lines(data: bytes) -> tuple[list[Line], list[RowFault]]:
    """The lines of the one sheet that holds any, by row, and the cells that cannot be taken."""
    if not openpyxl.DEFUSEDXML:
        raise UnreadableError(0, "Workbooks need the package defusedxml on the server.")
    try:
        check_archive(data)
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, keep_links=False)
        found = [one for one in (_sheet(sheet) for sheet in book.worksheets) if any(one)]
    except ArchiveError as why:
        raise UnreadableError(0, str(why)) from why
    except (
        BadZipFile,
        InvalidFileException,
        KeyError,
        ValueError,
        TypeError,
        SyntaxError,
    ) as why:
        raise UnreadableError(0, BROKEN) from why
    if len(found) > 1:
        raise UnreadableError(0, f"{len(found)} sheets hold rows: keep the one to import.")
    if not found:
        raise UnreadableError(0, "The workbook is empty.")
    return found[0]


def _sheet(sheet: Any) -> tuple[list[Line], list[RowFault]]:  # noqa: ANN401 - openpyxl's
    sheet.reset_dimensions()  # what a file says of its size is not believed
    lines: list[Line] = []
    faults: list[RowFault] = []
    left = MOST_OUT
    for number, row in enumerate(sheet.iter_rows(), 1):
        cells = list(_cells(row, faults))
        if not any(cells):
            continue
        while not cells[-1]:
            cells.pop()
        left -= sum(map(len, cells))
        _check_size(number, len(lines), len(cells), left)
        lines.append((number, cells))
    return lines, faults


def _check_size(number: int, rows: int, columns: int, left: int) -> None:
    if columns > MOST_COLUMNS:
        raise UnreadableError(number, f"More than {MOST_COLUMNS} columns.")
    if rows > MOST_ROWS:
        raise UnreadableError(number, f"More than {MOST_ROWS} rows: split the file.")
    if left < 0:
        raise UnreadableError(number, "The sheet holds too much text: split the file.")


def _cells(row: tuple[Any, ...], faults: list[RowFault]) -> Iterator[str]:
    for cell in row:
        kind = getattr(cell, "data_type", "n")
        if kind in ("f", "e"):
            words = "holds a formula: put its value there" if kind == "f" else "holds an error"
            faults.append(RowFault(cell.row, cell.coordinate, f"{cell.coordinate} {words}."))
            yield "?"
        else:
            yield written(cell.value)


def written(value: object) -> str:
    """A cell's value as it would stand in a CSV file: dates in ISO form, hours as 1:12."""
    if value is None or value is False:
        return ""
    if value is True:
        return "yes"
    if isinstance(value, float):
        return f"{value:.10g}" if math.isfinite(value) else "?"
    if isinstance(value, datetime):
        is_day = value.time() == time()
        return value.date().isoformat() if is_day else value.isoformat(" ", "minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time | timedelta):
        return _hours(value)
    return str(value).strip()


def _hours(length: time | timedelta) -> str:
    if isinstance(length, time):
        return f"{length.hour}:{length.minute:02d}"
    minutes = round(length.total_seconds() / 60)
    return f"{minutes // 60}:{minutes % 60:02d}"


def main() -> None:
    """Read, and say what was found."""
    confine()
    lines: list[Line] = []
    faults: list[RowFault] = []
    try:
        lines, faults = read_lines(sys.stdin.buffer.read())
    except UnreadableError as error:
        faults = [error.fault]
    except MemoryError:
        sys.exit(NO_MEMORY)
    json.dump({"lines": lines, "faults": [asdict(one) for one in faults]}, sys.stdout)


if __name__ == "__main__":
    main()
