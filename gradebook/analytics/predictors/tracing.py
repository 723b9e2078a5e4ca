"""Bayesian knowledge tracing, fitted task by task."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.optimize import minimize

from gradebook.analytics.needle.floats import Flags, Floats, Ints
from gradebook.analytics.predictors.history import read_history

START = np.array([0.3, 0.2, 0.2, 0.1])
BOUNDS = (0.01, 0.95), (0.01, 0.9), (0.01, 0.45), (0.01, 0.45)
FEWEST_ROWS = 30
ABSENT = -1


@dataclass(frozen=True, slots=True)
class Tracing:
    """Probabilities: known at first, learnt by one practice, met by guess, failed by slip."""

    known: float
    learnt: float
    guess: float
    slip: float


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """Of outcomes (sequences, attempts): the forecast of each, the same shape.

    `loss` is the negative log likelihood, `slope` (4,) its derivative by known, learnt, guess
    and slip.
    """

    forecast: Floats
    loss: float
    slope: Floats


def trace(outcomes: Ints, model: Tracing) -> Trace:
    """Run the model along sequences of 1 (met), 0 (not) and -1 (no further attempt).

    Source: A. T. Corbett & J. R. Anderson, User Modeling and User-Adapted Interaction 4 (1995)
    253-278.
    """
    known = np.full(len(outcomes), model.known)
    known_by = np.zeros((4, len(outcomes)))
    known_by[0] = 1.0
    forecast, loss, slope = np.empty(outcomes.shape), 0.0, np.zeros(4)
    for at, outcome in enumerate(outcomes.T):
        sign, seen = np.where(outcome == 1, 1.0, -1.0), outcome != ABSENT
        chance = known * (1 - model.slip) + (1 - known) * model.guess
        chance_by = known_by * (1 - model.slip - model.guess)
        chance_by[2] += 1 - known
        chance_by[3] -= known
        forecast[:, at] = chance
        likely, likely_by = np.where(outcome == 1, chance, 1 - chance), sign * chance_by
        loss -= float(np.log(likely[seen]).sum())
        slope -= (likely_by / likely)[:, seen].sum(axis=1)
        sure = np.where(outcome == 1, 1 - model.slip, model.slip)
        after = known * sure / likely
        after_by = (known_by * sure - after * likely_by) / likely
        after_by[3] -= known * sign / likely
        known = after + (1 - after) * model.learnt
        known_by = after_by * (1 - model.learnt)
        known_by[1] += 1 - after
    return Trace(forecast, loss, slope)


def fit_tracing(outcomes: Ints) -> Tracing:
    """Maximum likelihood; bounds keep guess and slip below .45, so that knowing means met."""

    def cost(values: Floats) -> tuple[float, Floats]:
        found = trace(outcomes, Tracing(*values))
        return found.loss, found.slope

    best = minimize(cost, START, jac=True, method="L-BFGS-B", bounds=BOUNDS)
    return Tracing(*(float(value) for value in best.x))


def knowledge_tracing(frame: pd.DataFrame, meets: Flags, train: Flags) -> Floats:
    """Knowledge tracing for each task; one with under 30 train rows has the school's model."""
    history = read_history(frame)
    order, task = history.on_task.order, history.task
    if not len(order):
        return np.empty(0)
    pair, place = _sequences(history.on_task.start[order])
    outcomes = np.full((pair[-1] + 1, place.max() + 1), ABSENT)
    outcomes[pair, place] = meets[order]
    heads = order[place == 0]
    learnt_from = train[heads]
    school = fit_tracing(outcomes[learnt_from])
    forecast = np.empty(outcomes.shape)
    for number in np.unique(task):
        mine = task[heads] == number
        fit_rows = _trim(outcomes[mine & learnt_from])
        model = fit_tracing(fit_rows) if (fit_rows >= 0).sum() >= FEWEST_ROWS else school
        forecast[mine] = trace(outcomes[mine], model).forecast
    row = np.empty(len(order), dtype=np.int64)
    row[order] = pair
    return forecast[row, history.on_task.count]


def _sequences(start: Ints) -> tuple[Ints, Ints]:
    """Number of the sequence and place in it of each sorted row, from where it begins."""
    here = np.arange(len(start))
    return np.cumsum(start == here) - 1, here - start


def _trim(outcomes: Ints) -> Ints:
    longest = int((outcomes != ABSENT).sum(axis=1).max(initial=0))
    return outcomes[:, :longest]
