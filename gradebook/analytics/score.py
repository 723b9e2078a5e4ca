"""Score forecasts of a grade table on the students they were not fitted to."""

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradebook.analytics.forecast import Forecast, forecast
from gradebook.analytics.metrics import auc, brier, calibration_error, coverage, log_loss
from gradebook.analytics.needle.floats import Flags, Floats
from gradebook.analytics.predictors.simple import (
    base_rate,
    last_grade,
    last_three,
    practice_factors,
)
from gradebook.analytics.predictors.tracing import knowledge_tracing
from gradebook.analytics.worlds.simulation import World
from gradebook.analytics.worlds.truth import limit_forecast

OURS = "dynamic ordinal model"
LIMIT = "filter that knows the truth"
PREDICTORS = {
    "task base rate": base_rate,
    "last grade, calibrated": last_grade,
    "mean of last three, logistic": last_three,
    "Bayesian knowledge tracing": knowledge_tracing,
    "performance-factor analysis": practice_factors,
}
HELD_OUT = 0.3


def score(
    data: World | pd.DataFrame,
    train: Flags,
    forecasts: Mapping[str, Floats | Forecast],
    standard: int = 3,
) -> pd.DataFrame:
    """One row per forecast, measured on the rows not in `train` (rows,).

    Columns: brier, log_loss, auc, ece (ten bins); of a world also to_limit, the Brier score
    over that of `LIMIT` where it is among the forecasts, and for a `Forecast` the share of true
    chances inside its 80 % interval, for the row's own instructor (coverage) and for a neutral
    one (coverage_neutral), and the correlation of its severities with the true ones
    (severity_r). What cannot be said is nan. A world has its own standard.
    """
    world = data if isinstance(data, World) else None
    meets = data.meets if isinstance(data, World) else data["grade"].to_numpy() >= standard
    table = {name: _measures(meets, one, ~train) for name, one in forecasts.items()}
    if world is not None:
        for name, one in forecasts.items():
            table[name] |= _against_truth(world, one, ~train)
    frame = pd.DataFrame.from_dict(table, orient="index", columns=list(COLUMNS), dtype=float)
    if LIMIT in forecasts:
        frame["to_limit"] = frame["brier"] / table[LIMIT]["brier"]
    return frame


COLUMNS = (
    "brier", "log_loss", "auc", "ece", "to_limit", "coverage", "coverage_neutral", "severity_r",
)  # fmt: skip


def simple_forecasts(frame: pd.DataFrame, meets: Flags, train: Flags) -> dict[str, Floats]:
    """The forecasts of `PREDICTORS` by name, each (rows,)."""
    return {name: predict(frame, meets, train) for name, predict in PREDICTORS.items()}


def our_forecast(
    frame: pd.DataFrame, levels: int, standard: int, train: Flags
) -> dict[str, Forecast]:
    """The forecast of the product, by its name here."""
    return {OURS: forecast(frame, levels, standard, train)}


def limit(world: World, train: Flags) -> dict[str, Floats]:
    """The reachable limit by its name, (rows,), nan in the train rows."""
    return {LIMIT: limit_forecast(world, np.unique(world.flights.student[~train]).tolist())}


def held_out(students: "pd.Series[str]", seed: int = 0) -> Flags:
    """Train rows, (rows,), when three students in ten (at least one of two) are held out.

    Which, is drawn from the sorted names. A single student is not held out.
    """
    names = np.unique(students.to_numpy().astype(str))
    count = min(len(names) - 1, max(1, round(HELD_OUT * len(names)))) if len(names) else 0
    chosen = np.random.default_rng(seed).permutation(names)[:count]
    return ~students.isin(chosen.tolist()).to_numpy()


def _measures(meets: Flags, one: Floats | Forecast, test: Flags) -> dict[str, float]:
    chance = _chance(one)[test]
    measures = {"brier": brier, "log_loss": log_loss, "auc": auc, "ece": calibration_error}
    return {name: measure(meets[test], chance) for name, measure in measures.items()}


def _chance(one: Floats | Forecast) -> Floats:
    if isinstance(one, Forecast):
        return one.frame["p_meets_standard"].to_numpy(np.float64)
    return one


def _against_truth(world: World, one: Floats | Forecast, test: Flags) -> dict[str, float]:
    if not isinstance(one, Forecast):
        return {}
    truth, said = world.truth[test], one.frame[test]
    known = [name for name in world.severity.index if name in one.severity]
    ours = [one.severity[name] for name in known]
    return {
        "coverage": coverage(truth["p_named"], said["lower80"], said["upper80"]),
        "coverage_neutral": coverage(
            truth["p_neutral"], said["neutral_lower80"], said["neutral_upper80"]
        ),
        "severity_r": _correlation([float(world.severity[name]) for name in known], ours),
    }


def _correlation(truth: list[float], ours: list[float]) -> float:
    if len(ours) < 2 or not np.std(ours) or not np.std(truth):
        return float("nan")
    return float(np.corrcoef(truth, ours)[0, 1])
