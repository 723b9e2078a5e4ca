"""`windtee forecast`: fit and replay a table of grades."""

import argparse
from pathlib import Path

import numpy as np
import pandas as pd

from gradebook.analytics.forecast import forecast as forecast_table
from gradebook.analytics.gradetable import TableError, read_grades
from gradebook.analytics.needle.floats import Flags
from gradebook.cli.console import say, warn
from gradebook.cli.safe import safe

BAD_INPUT = 2


def forecast(chosen: argparse.Namespace) -> int:
    """Write each row's forecast to a CSV; 2 and the faults by line when the table is wrong."""
    if not 2 <= chosen.standard <= chosen.levels:
        warn(f"--standard lies between 2 and --levels ({chosen.levels}).")
        return BAD_INPUT
    try:
        frame = read_grades(chosen.grades, chosen.levels)
        train = _train(frame, chosen)
    except TableError as fault:
        warn(*fault.words)
        return BAD_INPUT
    found = forecast_table(frame, chosen.levels, chosen.standard, train, warn)
    safe(found.frame).to_csv(chosen.out, index=False, float_format="%.6g")
    parameters = found.parameters
    say(
        f"{len(frame)} grades of {frame['student'].nunique()} students and "
        f"{frame['task'].nunique()} tasks; fitted on {parameters.grades}.",
        f"Forecasts written to {chosen.out}.",
    )
    return 0


def _train(frame: pd.DataFrame, chosen: argparse.Namespace) -> Flags | None:
    """The rows to fit on; None for all. `TableError` when the options do not fit the table."""
    if chosen.train_until is not None:
        lesson = pd.to_numeric(frame["lesson"], errors="coerce")
        if lesson.isna().any():
            raise TableError(("--train-until needs lessons that are numbers.",))
        return np.asarray(lesson <= chosen.train_until, bool)
    if chosen.train_students is None:
        return None
    names = set(_lines(chosen.train_students))
    strangers = sorted(names - set(frame["student"]))
    if strangers:
        file = chosen.train_students.name
        raise TableError(
            tuple(f"{file}: no student {name!r} in the table." for name in strangers)
        )
    return np.asarray(frame["student"].isin(list(names)), bool)


def _lines(path: Path) -> list[str]:
    try:
        return [
            line.strip() for line in path.read_text("utf-8-sig").splitlines() if line.strip()
        ]
    except (OSError, UnicodeDecodeError) as why:
        raise TableError((f"{path.name}: {why}",)) from why


def forecast_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    command.add_argument(
        "grades", type=Path, help="CSV: student, task, instructor, lesson, flown_on, grade"
    )
    command.add_argument("--levels", type=int, required=True, help="levels of the scale, K")
    command.add_argument(
        "--standard", type=int, required=True, help="first level that meets it"
    )
    command.add_argument("--out", type=Path, required=True, help="CSV to write")
    which = command.add_mutually_exclusive_group()
    which.add_argument("--train-until", type=int, metavar="N", help="fit on lessons up to N")
    which.add_argument(
        "--train-students", type=Path, metavar="FILE", help="fit on these students, one a line"
    )
    command.set_defaults(run=forecast)
