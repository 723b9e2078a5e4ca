"""Simulate a school: a grade table and the truth behind it."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd

from gradebook.analytics.needle.floats import Flags, Floats, Ints
from gradebook.analytics.worlds.curves import approach, power_law
from gradebook.analytics.worlds.flights import Flights, Size, schedule
from gradebook.analytics.worlds.grading import LEVELS, STANDARD, Grading, draw_grading
from gradebook.analytics.worlds.learning import ABILITY_SD, LOG_SPEED_SD, Learning
from gradebook.analytics.worlds.mastery import mastery

WORLDS = "A", "B", "C"
DAY_SD = 0.35
FIRST_DAY = date(2020, 1, 1)


@dataclass(frozen=True, slots=True, eq=False)
class World:
    """A simulated school.

    `grades` has a row per task flown with the columns student, task, instructor (words), lesson
    (the student's first is 1), flown_on (ISO date) and grade (1 to `levels`). `truth` has the
    same rows: p_neutral, the probability of meeting the standard for a neutral instructor given
    the skill just before the lesson, the day still unknown; p_named, the same for the
    instructor of the row. `severity` is the true one by instructor; positive is harder.
    """

    name: str
    grades: pd.DataFrame
    truth: pd.DataFrame
    severity: "pd.Series[float]"
    flights: Flights
    learning: Learning
    grading: Grading
    levels: int = LEVELS
    standard: int = STANDARD

    @property
    def meets(self) -> Flags:
        """Whether each row met the standard."""
        return self.grades["grade"].to_numpy() >= self.standard


def simulate(name: str, size: Size, seed: int) -> World:
    """Draw world A, B or C; the same seed gives the same table.

    ValueError for another name. The three and their sizes follow common practice in the study
    of learning curves: exponential and power laws of practice (Heathcote, Brown & Mewhort,
    Psychonomic Bulletin & Review 7 (2000) 185-207) and knowledge tracing (Corbett & Anderson,
    User Modeling and User-Adapted Interaction 4 (1995) 253-278); numbers are invented.
    """
    rng = np.random.default_rng(seed)
    learning, grading = _population(name, size, rng)
    flights = schedule(size, rng)
    ability = rng.normal(0, ABILITY_SD, size.students)[flights.student]
    speed = np.exp(rng.normal(0, LOG_SPEED_SD, size.students))[flights.student]
    skill = learning.skills(flights, ability, speed, rng)
    days = rng.normal(0, DAY_SD, (size.students, size.lessons))
    shown = skill + days[flights.student, flights.lesson]
    grade = grading.draw(shown, flights.instructor, rng)
    table = _table(flights, grade)
    severity = pd.Series(grading.severity, _words("I", np.arange(size.instructors)))
    truth = _truth(skill, flights, grading)
    return World(name, table, truth, severity, flights, learning, grading)


def _population(name: str, size: Size, rng: np.random.Generator) -> tuple[Learning, Grading]:
    if name == "A":
        return approach(size.tasks, rng), draw_grading(size.instructors, "logistic", 0.55, rng)
    if name == "B":
        return mastery(size.tasks, rng), draw_grading(size.instructors, "normal", 1.0, rng)
    if name == "C":
        grading = draw_grading(size.instructors, "t4", 0.75, rng, habit=0.05)
        return power_law(size.tasks, rng), grading
    raise ValueError(f"There is no world {name}; there are {', '.join(WORLDS)}.")


def day_nodes(count: int) -> tuple[Floats, Floats]:
    """Gauss-Hermite nodes and weights of the day effect, both (count,)."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(count)
    return DAY_SD * nodes, weights / weights.sum()


def _truth(skill: Floats, flights: Flights, grading: Grading) -> pd.DataFrame:
    nodes, weights = day_nodes(15)
    shown = skill[:, None] + nodes
    severity = grading.severity[flights.instructor][:, None]
    return pd.DataFrame(
        {
            "p_neutral": grading.meets(shown) @ weights,
            "p_named": grading.meets(shown, severity) @ weights,
        }
    )


def _table(flights: Flights, grade: Ints) -> pd.DataFrame:
    days = [(FIRST_DAY + timedelta(days=int(day))).isoformat() for day in flights.day]
    return pd.DataFrame(
        {
            "student": _words("S", flights.student),
            "task": _words("T", flights.task),
            "instructor": _words("I", flights.instructor),
            "lesson": flights.lesson + 1,
            "flown_on": days,
            "grade": grade,
        }
    )


def _words(letter: str, numbers: Ints) -> list[str]:
    return [f"{letter}{number + 1:03d}" for number in numbers]
