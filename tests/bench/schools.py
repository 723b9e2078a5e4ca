"""The grades that are measured on, drawn from fixed seeds."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradebook.analytics.gradetable import day_numbers, in_time
from gradebook.analytics.needle.coefficients import default_parameters
from gradebook.analytics.needle.log import Columns, GradeLog, grade_log
from gradebook.analytics.needle.parameters import Parameters
from gradebook.analytics.worlds.flights import Size
from gradebook.analytics.worlds.simulation import FIRST_DAY, simulate

SEED = 7
SCALE = "grade"
LEVELS, STANDARD = 4, 3
INSTRUCTORS, DAYS_APART = 20, 4


LARGE = Size(students=334, tasks=60, instructors=10, lessons=40)
YOUNG = Size(students=23, tasks=30, instructors=6, lessons=25)


@dataclass(frozen=True, slots=True)
class Sizes:
    """How much is measured: students, tasks and lessons of the school that is rebuilt.

    `fitted` and `young` are the schools that are fitted; `ordered` grades go to the ordered
    regression; `entries` are in the ledger that is proved, `record` lessons in the portable
    record; `few` runs of long jobs, `many` of short ones.
    """

    students: int = 500
    tasks: int = 60
    lessons: int = 40
    fitted: Size = LARGE
    young: Size = YOUNG
    ordered: int = 4_000
    entries: int = 20_000
    record: int = 300
    few: int = 3
    many: int = 200


QUICK = Sizes(
    students=6,
    tasks=25,
    lessons=4,
    fitted=Size(students=8, tasks=6, instructors=2, lessons=6),
    young=Size(students=5, tasks=5, instructors=2, lessons=6),
    ordered=150,
    entries=40,
    record=3,
    few=1,
    many=3,
)


def whole_school(size: Sizes) -> pd.DataFrame:
    """Every student graded in every task of every lesson: columns as `gradetable.COLUMNS`."""
    shape = (size.students, size.lessons, size.tasks)
    rng = np.random.default_rng(SEED)
    student, lesson, task = (part.ravel() for part in np.indices(shape))
    hand = rng.integers(0, INSTRUCTORS, shape[:2])[student, lesson]
    skill = (
        rng.normal(0, 0.6, size.students)[student]
        + rng.normal(0, 0.5, size.tasks)[task]
        + 2.5 * (1 - np.exp(-lesson / 8))
        - rng.normal(0, 0.4, INSTRUCTORS)[hand]
        + rng.normal(0, 1, student.size)
    )
    days = np.datetime64(FIRST_DAY) + DAYS_APART * lesson
    return pd.DataFrame(
        {
            "student": words("S", student),
            "task": words("T", task),
            "instructor": words("I", hand),
            "lesson": lesson + 1,
            "flown_on": days.astype(str),
            "grade": np.searchsorted([0.0, 1.5, 3.0], skill) + 1,
        }
    )


def words(letter: str, numbers: np.ndarray) -> list[str]:
    """A name for each number."""
    return [f"{letter}{number:03d}" for number in numbers.tolist()]


def world(size: Size) -> pd.DataFrame:
    """The grades of simulated world A: tasks enter one by one, each flown about six times."""
    return simulate("A", size, SEED).grades


def columns_of(frame: pd.DataFrame) -> Columns:
    """A grade table as the needle takes it."""
    rows = frame.iloc[in_time(frame)]
    return Columns(
        rows["student"].to_list(),
        rows["task"].to_list(),
        rows["instructor"].to_list(),
        rows["lesson"].astype(str).to_list(),
        day_numbers(rows).tolist(),
        rows["grade"].to_list(),
    )


def log_of(columns: Columns) -> GradeLog:
    """The log of such columns, all tasks on one scale."""
    return grade_log(columns, dict.fromkeys(columns.task, SCALE))[0]


def young_parameters() -> Parameters:
    """The published defaults for that scale."""
    return default_parameters([(SCALE, LEVELS, STANDARD)])


def met(frame: pd.DataFrame) -> np.ndarray:
    """Whether each grade met the standard."""
    return frame["grade"].to_numpy() >= STANDARD
