"""Tables of either kind: CSV, or an .xlsx workbook, which a confined child process reads."""

import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import PurePath

from gradebook.exchange.lines import Line, RowFault
from gradebook.exchange.table import Layout, TableRead, lay_out, read_table
from gradebook.paths import PACKAGE

WORKBOOK = b"PK\x03\x04"
OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
PATIENCE = 25
"""Seconds of waiting; a worker of the server is ended at 30."""

TOO_MUCH = "Reading this workbook takes too much memory or time. Save the sheet as CSV UTF-8."
BROKEN = "This is not an .xlsx workbook, or it is damaged."
UNFORESEEN = 1
"""How a Python process ends by an exception that nobody caught."""

OLD = "This is a workbook of an old kind. Save it as .xlsx or as CSV UTF-8."
TABLES, WORKBOOKS = (".csv", ".txt", ".tsv", ""), (".xlsx",)
NOT_OURS = "This file is neither .csv nor .xlsx by its name. Save the sheet as CSV UTF-8."
OTHER_CONTENT = "This file is not what its name says. Save the sheet as CSV UTF-8 anew."
HANDED_ON = ("PATH", "SYSTEMROOT", "LD_LIBRARY_PATH")


def misnamed(name: str, data: bytes) -> str:
    """Why a file of this name cannot be what it holds; empty when it can, or has no name."""
    ending = PurePath(name).suffix.lower()
    if not name or ending in (WORKBOOKS if data.startswith(WORKBOOK) else TABLES):
        return ""
    return NOT_OURS if ending not in (*WORKBOOKS, *TABLES, ".xls") else OTHER_CONTENT


def read_named(name: str, data: bytes, layouts: Sequence[Layout]) -> TableRead:
    """The same for a file with the name somebody gave it, which has to fit what it holds."""
    if data.startswith(OLD_WORKBOOK) or not (words := misnamed(name, data)):
        return read_file(data, layouts)
    return _nothing([RowFault(0, "", words)])


def read_file(data: bytes, layouts: Sequence[Layout]) -> TableRead:
    """Read a file of either kind; faults name the line of the CSV or the row of the sheet."""
    if data.startswith(OLD_WORKBOOK):
        return _nothing([RowFault(0, "", OLD)])
    if not data.startswith(WORKBOOK):
        return read_table(data, layouts)
    lines, faults = _unpacked(data)
    if faults:
        return _nothing(faults)
    width = len(lines[0][1])
    even = [(row, [*cells, *[""] * (width - len(cells))]) for row, cells in lines]
    return lay_out(even, layouts)


def _unpacked(data: bytes) -> tuple[list[Line], list[RowFault]]:
    environment = {name: os.environ[name] for name in HANDED_ON if name in os.environ}
    environment |= {"PYTHONPATH": str(PACKAGE.parent), "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-B", "-m", "gradebook.exchange.unpacking"]
    try:
        child = subprocess.run(  # noqa: S603 - our own module, and no shell
            command,
            input=data,
            capture_output=True,
            timeout=PATIENCE,
            env=environment,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return [], [RowFault(0, "", TOO_MUCH)]
    if child.returncode:
        words = BROKEN if child.returncode == UNFORESEEN else TOO_MUCH
        return [], [RowFault(0, "", words)]
    said = json.loads(child.stdout)
    lines = [(row, cells) for row, cells in said["lines"]]
    return lines, [RowFault(**one) for one in said["faults"]]


def _nothing(faults: Sequence[RowFault]) -> TableRead:
    return TableRead(None, (), tuple(faults))
