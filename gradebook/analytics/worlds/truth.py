"""The reachable limit: a Bayes filter that knows everything but the students.

It knows the world's population, tasks and instructors, and has seen a student's earlier grades.
No forecast from the grades alone can be better on average.
"""

from collections.abc import Iterable

import numpy as np

from gradebook.analytics.needle.floats import Floats, Ints
from gradebook.analytics.worlds.flights import Flights
from gradebook.analytics.worlds.grading import Grading
from gradebook.analytics.worlds.learning import ABILITY_SD, LOG_SPEED_SD, Chain
from gradebook.analytics.worlds.simulation import World, day_nodes

ABILITIES = 21
SPEEDS = 7
DAYS = 5
TINY = 1e-300


def limit_forecast(world: World, students: Iterable[int] | None = None) -> Floats:
    """Probability of meeting the standard for each row, (rows,), said before its lesson.

    It is for the row's own instructor. Ability and speed are integrated on an even grid, the
    day effect on Gauss-Hermite nodes, the state of each task exactly (B) or on a grid (A, C).
    Within a lesson the posterior of a task sees the day through all its grades; afterwards
    tasks count as independent given ability and speed. `students` (numbers from 0; default all)
    limits the work: other rows are nan.
    """
    everyone = np.unique(world.flights.student) if students is None else students
    forecast = np.full(len(world.grades), np.nan)
    grade = world.grades["grade"].to_numpy()
    for student in everyone:
        rows = world.flights.student == student
        forecast[rows] = _replay(world, world.flights.of(int(student)), grade[rows])
    return forecast


def _replay(world: World, flights: Flights, grade: Ints) -> Floats:
    """Forecasts of one student's rows, lesson by lesson."""
    ability, speed, kinds = _kinds()
    chain = world.learning.chain(flights, ability, speed)
    forecast = np.empty(len(grade))
    states = np.zeros((len(grade), *chain.first.shape))
    for lesson in np.unique(flights.lesson):
        rows = np.flatnonzero(flights.lesson == lesson)
        before = _before(chain, states, flights.previous[rows], rows)
        chances = _chances(world.grading, flights, chain, rows, grade[rows])
        forecast[rows] = np.einsum("n,rnm,rnm->r", kinds, before, chances[0])
        states[rows], kinds = _after(before, chances[1], kinds)
    return forecast


def _kinds() -> tuple[Floats, Floats, Floats]:
    """Ability, speed and weight of each kind of student, all (kinds,)."""
    ability, log_speed = np.linspace(-3.2, 3.2, ABILITIES), np.linspace(-2.6, 2.6, SPEEDS)
    a, v = (side.ravel() for side in np.meshgrid(ability, log_speed))
    weight = np.exp(-0.5 * (a * a + v * v))
    return ABILITY_SD * a, np.exp(LOG_SPEED_SD * v), weight / weight.sum()


def _before(chain: Chain, states: Floats, previous: Ints, rows: Ints) -> Floats:
    """State probabilities just before a lesson, (its rows, kinds, states)."""
    step = chain.step if len(chain.step) == 1 else chain.step[rows]
    moved = np.matmul(states[previous][:, :, None, :], step)[:, :, 0, :]
    return np.where((previous < 0)[:, None, None], chain.first, moved)


def _chances(
    grading: Grading, flights: Flights, chain: Chain, rows: Ints, grade: Ints
) -> tuple[Floats, Floats]:
    """Chance of the standard, (rows, kinds, states), and of the grade, with a last axis day."""
    nodes, weights = day_nodes(DAYS)
    shown = chain.skill[rows][..., None] + nodes
    instructor = flights.instructor[rows]
    severity = grading.severity[instructor][:, None, None, None]
    return grading.meets(shown, severity) @ weights, grading.chance(grade, shown, instructor)


def _after(before: Floats, seen: Floats, kinds: Floats) -> tuple[Floats, Floats]:
    """State probabilities after a lesson's grades, and the weights of the kinds."""
    weights = day_nodes(DAYS)[1]
    chance = np.einsum("rnm,rnmq->rnq", before, seen) + TINY
    day = np.log(chance).sum(axis=0) + np.log(weights)
    top = day.max()
    day = np.exp(day - top)
    found = kinds * day.sum(axis=1)
    others = day / chance
    after = before * np.einsum("rnmq,rnq->rnm", seen, others)
    return after / after.sum(axis=2, keepdims=True), found / found.sum()
