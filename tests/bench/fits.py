"""Fitting a school, beside what else could be fitted to the same grades."""

import warnings
from collections.abc import Iterator

import numpy as np
import pandas as pd
from statsmodels.miscmodels.ordinal_model import OrderedModel

from gradebook.analytics.needle.fitting import fit
from gradebook.analytics.predictors.boosting import boosting
from gradebook.analytics.predictors.tracing import knowledge_tracing
from tests.bench.measuring import Baseline, Figure, groupby
from tests.bench.schools import (
    Sizes,
    columns_of,
    log_of,
    met,
    world,
    young_parameters,
)

FIT, BOOSTING, TRACING = "full fit", "gradient boosting", "knowledge tracing"
SCHOOLS = "large school", "young school"
REBUILT = "whole school"
"""The school that is rebuilt: too long to be fitted more than once."""


def fitting(whole: pd.DataFrame, size: Sizes) -> Iterator[Figure]:
    """Our fit, boosting and knowledge tracing on every school; ordered regression on one.

    `whole` are the grades of the school that is rebuilt.
    """
    for school, shape in zip(SCHOOLS, (size.fitted, size.young), strict=True):
        frame = world(shape)
        base = groupby(frame, 3 * size.few)
        yield from _on(frame, base, school, size.few)
    yield from _on(whole, groupby(whole, size.few), REBUILT, 1)
    some = frame.head(size.ordered)
    yield groupby(some, 3 * size.few).figure(
        f"ordered regression, {school}", lambda: ordered_regression(some), size.few
    )


def _on(frame: pd.DataFrame, base: Baseline, school: str, runs: int) -> Iterator[Figure]:
    log, start = log_of(columns_of(frame)), young_parameters()
    yield base.figure(f"{FIT}, {school}", lambda: fit(log, start), runs)
    everyone, passes = np.ones(len(frame), bool), met(frame)
    for name, predictor in ((BOOSTING, boosting), (TRACING, knowledge_tracing)):

        def work(predictor=predictor) -> object:
            return predictor(frame, passes, everyone)

        yield base.figure(f"{name}, {school}", work, runs)


def ordered_regression(frame: pd.DataFrame) -> object:
    """Ordered probit (statsmodels) on task, instructor and attempts so far."""
    attempts = np.log1p(frame.groupby(["student", "task"]).cumcount())
    dummies = pd.get_dummies(frame[["task", "instructor"]], drop_first=True, dtype=float)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a tiny table need not converge to be timed
        model = OrderedModel(frame["grade"], dummies.assign(attempts=attempts), distr="probit")
        return model.fit(method="bfgs", disp=False)
