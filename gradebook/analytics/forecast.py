"""Fit and replay any table of grades: for each row, what was to be expected before it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from gradebook.analytics.gradetable import day_numbers, in_time
from gradebook.analytics.needle.coefficients import default_parameters
from gradebook.analytics.needle.fitting import Report, fit
from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.foretold import chances, graders
from gradebook.analytics.needle.log import Columns, grade_log
from gradebook.analytics.needle.parameters import Parameters
from gradebook.analytics.needle.replay import Replay, replay

SCALE = "grade"


@dataclass(frozen=True, slots=True)
class Forecast:
    """The table with its forecasts, and what they rest on.

    `frame`: the rows as given, plus `attempts_before`, `p_meets_standard` with `lower80` and
    `upper80` (for the row's own instructor), `p_neutral` with `neutral_lower80` and
    `neutral_upper80` (for an instructor of average severity), and `fitted_on`, 1 where the row
    was among those fitted on. The intervals are about the chance itself, the mood of the day
    averaged over.
    """

    frame: pd.DataFrame
    parameters: Parameters

    @property
    def severity(self) -> Mapping[str, float]:
        """Severity by instructor, probit scale; positive is harder."""
        return {name: hand.severity for name, hand in self.parameters.instructors.items()}


def forecast(
    frame: pd.DataFrame,
    levels: int,
    standard: int,
    train: ArrayLike | None = None,
    report: Report | None = None,
) -> Forecast:
    """Fit on the rows marked in `train` [N] (all when None), then replay every row.

    `frame` has the columns of `gradetable.COLUMNS`, grade 1 to `levels`. Each forecast uses
    only earlier lessons of its student, and the parameters of the fit. Each student's lessons
    are taken in the order of `gradetable.in_time`. No rows to fit on: the defaults. ValueError
    unless 2 <= standard <= levels.
    """
    start = default_parameters([(SCALE, levels, standard)])
    order = in_time(frame)
    rows = frame.iloc[order]
    columns = Columns(
        rows["student"].astype(str).to_list(),
        rows["task"].astype(str).to_list(),
        rows["instructor"].astype(str).to_list(),
        rows["lesson"].astype(str).to_list(),
        day_numbers(rows).tolist(),
        rows["grade"].to_list(),
    )
    log, inside = grade_log(columns, dict.fromkeys(columns.task, SCALE))
    place = order[inside]
    kept = np.ones(len(frame), bool) if train is None else np.asarray(train, bool)
    fitted = fit(log.rows(kept[place]), start, report)
    done = replay(log, fitted)
    found = pd.DataFrame(_columns(done, fitted), index=place).sort_index()
    told = frame.drop(columns=list(found), errors="ignore").assign(fitted_on=kept.astype(int))
    return Forecast(pd.concat([told, found.set_index(frame.index)], axis=1), fitted)


def _columns(done: Replay, parameters: Parameters) -> dict[str, Floats]:
    log = done.log
    severity, doubt = graders(log, parameters)
    own, own_low, own_high = chances(done, severity, doubt, parameters)
    none = np.zeros(len(log))
    fair, fair_low, fair_high = chances(done, none, none, parameters)
    return {
        "attempts_before": attempts_before(done),
        "p_meets_standard": own,
        "lower80": own_low,
        "upper80": own_high,
        "p_neutral": fair,
        "neutral_lower80": fair_low,
        "neutral_upper80": fair_high,
    }


def attempts_before(done: Replay) -> Floats:
    """Graded attempts [N] of the same task by the same student before each row's lesson."""
    log = done.log
    keys = pd.DataFrame({"student": log.student, "task": log.task})
    counted = keys.groupby(["student", "task"]).cumcount()
    keys["lesson"] = np.cumsum(log.opens)
    return (
        counted.groupby([keys["student"], keys["task"], keys["lesson"]])
        .transform("min")
        .to_numpy()
    )
