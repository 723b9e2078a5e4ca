"""Tables of grades from files: checked, with every fault at its line."""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import numpy as np
import pandas as pd

from gradebook.analytics.needle.floats import Floats, Ints

COLUMNS = ("student", "task", "instructor", "lesson", "flown_on", "grade")
MISSING = ("na", "nan", "nat", "none", "null")
"""What programs write where there is no date, in any case."""

MOST_FAULTS = 20
"""Only so many faults are told at once."""


@dataclass(frozen=True, slots=True)
class TableError(Exception):
    """What is wrong with a table, each line of words naming line and column of the file."""

    words: tuple[str, ...]

    def __str__(self) -> str:
        return "\n".join(self.words)


def read_grades(path: Path, levels: int) -> pd.DataFrame:
    """A CSV of grades with the columns `COLUMNS`: grade 1 to `levels`, dates or blanks.

    Dates may be missing: blank, one of the words in `MISSING`, or the whole column. Other
    columns are kept as text. Raises `TableError` with line numbers for missing columns, blank
    names, and grades or dates that cannot be read.
    """
    frame = _text(path)
    frame = frame.assign(flown_on=_as_written(frame))
    missing = [name for name in COLUMNS if name not in frame.columns]
    if missing:
        raise TableError((f"{path.name}, line 1: no column {', '.join(missing)}.",))
    faults = tuple(_faults(frame, levels))
    if faults:
        more = len(faults) - MOST_FAULTS
        tail = (f"and {more} more.",) if more > 0 else ()
        named = (f"{path.name}, {words}" for words in faults[:MOST_FAULTS])
        raise TableError((*named, *tail))
    whole = pd.to_numeric(frame["grade"]).astype("int64")
    return frame.assign(grade=whole).reset_index(drop=True)


def _text(path: Path) -> pd.DataFrame:
    """The cells of a table without its blank rows; line 2 of the file is 0 in the index."""
    try:
        text = path.read_text("utf-8-sig")
        long = tuple(_too_long(text, path.name))
        if long:
            raise TableError(long)
        frame = pd.read_csv(
            io.StringIO(text),
            dtype=str,
            keep_default_na=False,
            skip_blank_lines=False,
        )
    except (
        OSError,
        UnicodeDecodeError,
        csv.Error,
        pd.errors.ParserError,
        pd.errors.EmptyDataError,
    ) as why:
        raise TableError((f"{path.name}: {why}",)) from why
    return frame[(frame != "").any(axis=1)]


def _too_long(text: str, file: str) -> Iterator[str]:
    """Lines with more cells than the header, which pandas would move or drop unsaid."""
    reader = csv.reader(io.StringIO(text, newline=""))
    width = len(next(reader, []))
    long = (cells for cells in reader if len(cells) > width)
    for cells in islice(long, MOST_FAULTS):
        words = f"{len(cells)} cells where the header has {width}."
        yield f"{file}, line {reader.line_num}: {words}"


def _as_written(frame: pd.DataFrame) -> "pd.Series[str]":
    """The dates as written, blank where they are missing."""
    if "flown_on" not in frame.columns:
        return pd.Series("", index=frame.index)
    written = frame["flown_on"].str.strip()
    return written.mask(written.str.lower().isin(MISSING), "")


def _faults(frame: pd.DataFrame, levels: int) -> Iterator[str]:
    line = frame.index.to_numpy() + 2
    for name in ("student", "task", "instructor", "lesson"):
        for at in np.flatnonzero(frame[name].str.strip() == ""):
            yield f"line {line[at]}: no {name}."
    grades = pd.to_numeric(frame["grade"], errors="coerce")
    wrong = ~(grades.between(1, levels) & (grades == grades.round()))
    for at in np.flatnonzero(wrong):
        got = frame["grade"].iloc[at]
        yield f"line {line[at]}: grade {got!r} is not a whole number from 1 to {levels}."
    for at in np.flatnonzero(_dates(frame).isna() & (frame["flown_on"].str.strip() != "")):
        got = frame["flown_on"].iloc[at]
        yield f"line {line[at]}: flown_on {got!r} is not a date like 2031-05-28."


def in_time(frame: pd.DataFrame) -> Ints:
    """Row places [N] that put each student's lessons in order of time.

    By lesson number where every lesson is one; else by the lesson's first date, those without
    one last; ties as they first stand in the table. The rows of a lesson stay together.
    """
    lesson = pd.to_numeric(frame["lesson"], errors="coerce")
    if not lesson.isna().any():
        return np.asarray(np.argsort(lesson.to_numpy(), kind="stable"), np.intp)
    flown = frame.groupby(["student", "lesson"], sort=False).ngroup().to_numpy()
    days = pd.Series(day_numbers(frame)).groupby(flown).transform("min").fillna(np.inf)
    return np.asarray(np.lexsort((flown, days)), np.intp)


def day_numbers(frame: pd.DataFrame) -> Floats:
    """Days [N] since 1970-01-01, nan where there is no date."""
    days = _dates(frame) - pd.Timestamp(0, tz="UTC")
    return np.asarray(days / pd.Timedelta(days=1), np.float64)


def _dates(frame: pd.DataFrame) -> "pd.Series[pd.Timestamp]":
    return pd.to_datetime(frame["flown_on"], format="ISO8601", errors="coerce", utc=True)
