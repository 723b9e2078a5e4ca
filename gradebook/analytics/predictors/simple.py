"""Predictors of a line or two: a rate, the last grade, the last three."""

import numpy as np
import pandas as pd

from gradebook.analytics.needle.floats import Flags, Floats, Ints
from gradebook.analytics.predictors.history import read_history
from gradebook.analytics.predictors.logistic import fit_logistic

PRIOR_ROWS = 2.0


def base_rate(frame: pd.DataFrame, meets: Flags, train: Flags) -> Floats:
    """How often the task was met, whoever flew it."""
    return _rates(read_history(frame).task, meets, train)


def last_grade(frame: pd.DataFrame, meets: Flags, train: Flags) -> Floats:
    """How often the standard was met after a last grade such as this (or none)."""
    history = read_history(frame)
    last = history.on_task.last(history.grade)
    return _rates(np.nan_to_num(last, nan=0.0).astype(np.int64), meets, train)


def last_three(frame: pd.DataFrame, meets: Flags, train: Flags) -> Floats:
    """Logistic regression on the mean of the last three grades of the task."""
    history = read_history(frame)
    mean = history.on_task.mean(history.grade, 3)
    new = np.isnan(mean)
    features = np.stack([np.ones(len(mean)), new, np.where(new, 0.0, mean)], axis=1)
    one = np.zeros(len(mean), dtype=np.int64)
    model = fit_logistic(features[train], one[train], meets[train], 1)
    return model.forecast(features, one)


def practice_factors(frame: pd.DataFrame, meets: Flags, train: Flags) -> Floats:
    """Performance-factor analysis: logistic in the task and its earlier wins and failures.

    Counts enter as log(1 + count), each task has its own three coefficients under a ridge.
    Source: Pavlik, Cen & Koedinger, 'Performance factors analysis', Artificial Intelligence in
    Education (2009) 531-538; the logarithm and the ridge are common practice.
    """
    history = read_history(frame)
    wins = history.on_task.total(meets)
    failures = history.on_task.count - wins
    features = np.stack([np.ones(len(wins)), np.log1p(wins), np.log1p(failures)], axis=1)
    tasks, task = int(history.task.max(initial=0)) + 1, history.task
    model = fit_logistic(features[train], task[train], meets[train], tasks)
    return model.forecast(features, task)


def _rates(group: Ints, meets: Flags, train: Flags) -> Floats:
    """Rate in the train rows of each group, drawn a little to the rate of all."""
    size = int(group.max(initial=0)) + 1
    rows = np.bincount(group[train], minlength=size)
    met = np.bincount(group[train], meets[train], size)
    overall = (meets[train].sum() + 1) / (train.sum() + 2)
    rate: Floats = (met + PRIOR_ROWS * overall) / (rows + PRIOR_ROWS)
    return rate[group]
