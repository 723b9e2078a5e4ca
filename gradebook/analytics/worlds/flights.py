"""Who flies what, when and with whom in a simulated school."""

from dataclasses import dataclass

import numpy as np

from gradebook.analytics.needle.floats import Floats, Ints

HOME_SHARE = 0.7
BREAK_SHARE = 0.06
ATTEMPTS = 6


@dataclass(frozen=True, slots=True)
class Size:
    """How large a school is; `lessons` are those of one student. ValueError below 1."""

    students: int
    tasks: int
    instructors: int
    lessons: int

    def __post_init__(self) -> None:
        if min(self.students, self.tasks, self.instructors, self.lessons) < 1:
            raise ValueError("A school has at least one of each.")


SMALL = Size(students=30, tasks=30, instructors=6, lessons=25)
LARGE = Size(students=200, tasks=40, instructors=8, lessons=30)


@dataclass(frozen=True, slots=True, eq=False)
class Flights:
    """One row per task flown, all arrays of shape (rows,), ordered by student and lesson.

    `student`, `task`, `instructor` and `lesson` are numbers from 0, `day` counts from the
    first day of the school. `previous` is the row in which the student last flew the task (-1:
    never), `attempt` how often before, `gap` the days since (0: never).
    """

    student: Ints
    task: Ints
    instructor: Ints
    lesson: Ints
    day: Ints
    previous: Ints
    attempt: Ints
    gap: Ints

    def of(self, student: int) -> "Flights":
        """The rows of one student."""
        first, end = np.searchsorted(self.student, [student, student + 1])
        columns = self.student, self.task, self.instructor, self.lesson, self.day
        return flown(*(column[first:end] for column in columns))


def flown(student: Ints, task: Ints, instructor: Ints, lesson: Ints, day: Ints) -> Flights:
    """Flights with what follows from the columns; a task is flown once in a lesson."""
    rows = len(student)
    order = np.lexsort((lesson, task, student))
    again = np.zeros(rows, dtype=bool)
    again[1:] = np.diff(student[order] * (task.max(initial=0) + 1) + task[order]) == 0
    previous = np.full(rows, -1)
    previous[order[1:]] = np.where(again[1:], order[:-1], -1)
    place = np.arange(rows)
    attempt = np.empty(rows, dtype=np.int64)
    attempt[order] = place - np.maximum.accumulate(np.where(again, 0, place))
    gap = np.where(previous < 0, 0, day - day[previous])
    return Flights(student, task, instructor, lesson, day, previous, attempt, gap)


def schedule(size: Size, rng: np.random.Generator) -> Flights:
    """Draw the flights of a whole school.

    Tasks enter in syllabus order over three quarters of the lessons and are flown about six
    times. A student flies 70 % of the lessons with a home instructor; lessons are days apart,
    and about 6 % follow a break of weeks.
    """
    shape = size.students, size.lessons
    chance = _chance_of_a_task(size)
    student, lesson, task = np.nonzero(rng.random((size.students, *chance.shape)) < chance)
    days = _days(shape, rng)[student, lesson]
    instructor = _instructors(size, rng)[student, lesson]
    return flown(student, task, instructor, lesson, days)


def _chance_of_a_task(size: Size) -> Floats:
    """Chance that a task is flown in a lesson, (lessons, tasks): often, then less."""
    entry = np.floor(np.arange(size.tasks) * 0.75 * size.lessons / size.tasks)
    since = np.arange(size.lessons)[:, None] - entry
    weight = np.where(since > 0, 0.2 + 0.6 * np.exp(-since / 4), 0.0)
    total = np.maximum(weight.sum(axis=0), 1e-9)
    return np.where(since == 0, 1.0, np.minimum(1.0, weight * (ATTEMPTS - 1) / total))


def _days(shape: tuple[int, int], rng: np.random.Generator) -> Ints:
    apart = 1 + rng.geometric(0.25, shape)
    breaks = rng.random(shape) < BREAK_SHARE
    apart = np.where(breaks, apart + rng.integers(21, 90, shape), apart)
    apart[:, 0] = rng.integers(0, 365, shape[0])
    return apart.cumsum(axis=1)


def _instructors(size: Size, rng: np.random.Generator) -> Ints:
    shape = size.students, size.lessons
    home = rng.integers(0, size.instructors, (size.students, 1))
    other = (home + rng.integers(1, max(2, size.instructors), shape)) % size.instructors
    return np.where(rng.random(shape) < HOME_SHARE, home, other)
