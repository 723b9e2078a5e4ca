"""Small made-up schools for the tests of the needle."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.stats import norm

from gradebook.analytics.needle.beliefs import Beliefs
from gradebook.analytics.needle.coefficients import default_parameters
from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.foretold import chances
from gradebook.analytics.needle.log import Columns, GradeLog, grade_log
from gradebook.analytics.needle.parameters import Hand, Parameters, Spread, TaskCurve
from gradebook.analytics.needle.replay import Replay, advance, replay

NOTHING = 1e-9
"""A standard deviation as good as none."""

STILL = Spread(
    ability=NOTHING,
    deviation=0.8,
    practice=0.0,
    rest=0.0,
    day=0.0,
    speed=0.0,
    retention=1e12,
    hold=1.0,
)
"""No student differs by ability, no day is better than another, nothing is forgotten."""

Row = tuple[str, str, str, int, float, int]
"""Student, task, instructor, lesson, day, grade."""

NOWHERE = float("nan")
"""The day of a lesson whose date is missing."""


def still(cuts: Sequence[float], **curve: float) -> Parameters:
    """Parameters under which a task is learnt by nobody: no attempt changes anything."""
    task = TaskCurve(**{"start": -0.5, "plateau": 1.0, "rate": 0.0, "unsure": 0.0, **curve})
    nobody = {"Ben": Hand(error=0.0)}
    return Parameters({"grade": tuple(cuts)}, STILL, {}, nobody, typical=task, nodes=1)


def defaults(levels: int = 4, standard: int = 3, **spread: float) -> Parameters:
    """The published defaults for one scale, but for these fields of `Spread`."""
    found = default_parameters([("grade", levels, standard)])
    return replace(found, spread=replace(found.spread, **spread))


def log_of(rows: Sequence[Row], scales: dict[str, str] | None = None) -> GradeLog:
    """The log of rows that stand in each student's order of time."""
    columns: list[list[Any]] = [[row[place] for row in rows] for place in range(6)]
    named = dict.fromkeys(columns[1], "grade")
    return grade_log(Columns(*columns), scales or named)[0]


def random_rows(seed: int, students: int = 5, lessons: int = 5, levels: int = 4) -> list[Row]:
    """Grades at random: three tasks or so a lesson, some twice, some lessons without a date."""
    random, rows = np.random.default_rng(seed), list[Row]()
    for student in range(students):
        day = 0.0
        for lesson in range(1, int(random.integers(1, lessons + 1)) + 1):
            day += float(random.integers(0, 40))
            when = NOWHERE if random.random() < 0.15 else day
            hand = f"instructor-{random.integers(3)}"
            for task in random.integers(0, 5, size=random.integers(1, 5)):
                grade = int(random.integers(1, levels + 1))
                rows.append((f"s{student}", f"task-{task}", hand, lesson, when, grade))
    return rows


def lessons_of(rows: Sequence[Row], student: str) -> list[list[Row]]:
    """One student's rows, lesson by lesson."""
    numbers = dict.fromkeys(row[3] for row in rows if row[0] == student)
    return [[row for row in rows if row[0] == student and row[3] == one] for one in numbers]


def step_by_step(rows: Sequence[Row], student: str, parameters: Parameters) -> list[Replay]:
    """One student read a lesson at a time, each going on from the one before."""
    done, known = list[Replay](), None
    for lesson in lessons_of(rows, student):
        done.append(advance(log_of(lesson), parameters, known))
        known = done[-1].beliefs[student]
    return done


def neutral(done: Replay, parameters: Parameters) -> Floats:
    """Chance of meeting the standard for an instructor of average severity [N]."""
    none = np.zeros(len(done.log))
    return chances(done, none, none, parameters)[0]


def reached(margin: Floats | float, doubt: float = 0.0) -> Floats:
    """Chance that normal noise of variance 1 and `doubt` more stays below the margin."""
    return np.asarray(norm.cdf(margin / np.sqrt(1 + doubt)))


def after(rows: Sequence[Row], parameters: Parameters, student: str = "s0") -> Beliefs:
    """What is believed of a student after these rows."""
    return replay(log_of(rows), parameters).beliefs[student]


def one_task(*grades: int, days: Sequence[float] = (), task: str = "hover") -> list[Row]:
    """One student's grades in one task, one a lesson, a day apart unless `days` says."""
    when = days or range(len(grades))
    return [
        ("s0", task, "Ben", at + 1, float(day), grade)
        for at, (grade, day) in enumerate(zip(grades, when, strict=True))
    ]
