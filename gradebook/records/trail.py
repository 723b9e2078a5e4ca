"""Where the needle went: replayed grade by grade under the parameters in force. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np
import pandas as pd
from scipy.special import ndtr

from gradebook.analytics.needle.floats import Flags, Floats, Ints
from gradebook.analytics.needle.foretold import chances, met
from gradebook.analytics.needle.outlook import probits
from gradebook.analytics.needle.parameters import Parameters
from gradebook.analytics.needle.replay import Replay, replay
from gradebook.records.graded import Graded, StudentFlights, graded
from gradebook.records.values import GradeFact
from syllabus.course import Course


@dataclass(frozen=True, slots=True)
class TrailPoint:
    """One counted grade: the chance of an average instructor's 'meets' before its lesson."""

    on: date
    chance: float
    low: float
    high: float
    met: bool
    record_id: str


@dataclass(frozen=True)
class SchoolTrail:
    """Every counted grade of a school, with what was to be expected of it [N].

    `chance` (with its 80 % interval) for an instructor of average severity; `met` whether the
    standard was met; `z` the grade's distance from what such an instructor would have given,
    in standard deviations.
    """

    graded: Graded
    chance: Floats
    low: Floats
    high: Floats
    met: Flags
    z: Floats

    @cached_property
    def frame(self) -> pd.DataFrame:
        """The grades as the instructors' diagnostics read them, level 0 the lowest."""
        log, lessons = self.graded.log, self.graded.lessons
        return pd.DataFrame(
            {
                "instructor": [fact.instructor for fact in lessons],
                "student": np.array(log.students, object)[log.student],
                "lesson": [fact.record_id for fact in lessons],
                "number": lesson_numbers(self.graded),
                "month": [fact.flown_on.year * 12 + fact.flown_on.month for fact in lessons],
                "level": log.grade - 1,
                "chance": self.chance,
                "z": self.z,
            }
        )


def trail(school: SchoolTrail, task: str) -> tuple[TrailPoint, ...]:
    """Every counted grade of one task, oldest first, of a school that is one student."""
    return tuple(
        TrailPoint(
            fact.flown_on,
            chance=float(school.chance[at]),
            low=float(school.low[at]),
            high=float(school.high[at]),
            met=bool(school.met[at]),
            record_id=fact.record_id,
        )
        for at, (fact, grade) in enumerate(
            zip(school.graded.lessons, school.graded.grades, strict=True)
        )
        if grade.task == task
    )


def school_trail(flights: Sequence[StudentFlights], parameters: Parameters) -> SchoolTrail:
    """Replay these students and say what was to be expected of every grade."""
    step = graded(flights)
    done = replay(step.log, parameters)
    none = np.zeros(len(step.log))
    chance, low, high = chances(done, none, none, parameters)
    levels = _levels(done, parameters)
    return SchoolTrail(
        step, chance, low, high, met(step.log, parameters), _distance(done, levels)
    )


def _levels(done: Replay, parameters: Parameters) -> Floats:
    """Chance of reaching each level from the second on [K - 1, N], 0 beyond a scale's top."""
    log = done.log
    width = max((len(cuts) for cuts in parameters.cuts.values()), default=0)
    table = np.full((len(log.scales), width), np.inf)
    for row, name in enumerate(log.scales):
        table[row, : len(parameters.cuts[name])] = parameters.cuts[name]
    cuts = table[log.scale[log.task]].T[:, None, :]
    beyond = ndtr(probits(done.mean - cuts, done.variance, parameters))
    return np.asarray((done.weight * beyond).sum(axis=1))


def _distance(done: Replay, reach: Floats) -> Floats:
    """Each grade less its expectation, over its standard deviation [N]."""
    places = np.arange(1, len(reach) + 1)[:, None]
    mean = reach.sum(axis=0)
    square = ((2 * places - 1) * reach).sum(axis=0)
    sd = np.sqrt(np.maximum(square - mean**2, 1e-9))
    return np.asarray((done.log.grade - 1 - mean) / sd, float)


def lesson_numbers(step: Graded) -> Ints:
    """The how-manieth lesson of its student each grade belongs to [N], 1 the first."""
    whole = np.cumsum(step.log.opens)
    first = pd.Series(whole).groupby(step.log.student).transform("min").to_numpy()
    return np.asarray(whole - first + 1, np.intp)


def is_met(grade: GradeFact, course: Course) -> bool | None:
    """Whether a grade meets the standard, whatever its lesson asked; None: not counted."""
    return course.task_by_code[grade.task].scale.meets(grade.level)
