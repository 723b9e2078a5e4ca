"""Stage checks as a mirror of instructors: grades just before one, and what the check found.

Two questions about each instructor. Do their grades in the last lessons before a check lie
further above the needle's forecast than in their other lessons? And does the next check, by
somebody else, find the level they last gave? Both are differences with errors worked out over
lessons and checks, drawn towards the school's mean by how little is known, and flagged only
when they survive the correction for having asked both questions of everybody.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np
import pandas as pd
from scipy.stats import t

from gradebook.analytics.discoveries import benjamini_hochberg
from gradebook.analytics.estimate import Estimate
from gradebook.analytics.instructors import Finding
from gradebook.analytics.kappa import Weights, cross_table, weighted_kappa
from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.shrinkage import Drawn, drawn

FEWEST = 5
"""With fewer lessons on either side, or fewer checks, nothing is told of an instructor."""

Z95 = 1.959963984540054


@dataclass(frozen=True, slots=True)
class Rise:
    """One instructor's grades before checks: mean z of those lessons less that of the others.

    z is a grade's distance from its forecast in standard deviations, averaged over a lesson.
    `before` and `others` count lessons. `finding` is the plain difference (Welch's t), `drawn`
    the same drawn towards the school; above 0: higher grades just before checks.
    """

    instructor: str
    before: int
    others: int
    finding: Finding
    drawn: Drawn | None = None


@dataclass(frozen=True, slots=True)
class Confirmation:
    """One instructor's last grades of tasks against the grades of the next check.

    `pairs` of grades from `checks` by somebody else; `same` the share with one level, `kappa`
    linearly weighted. `finding` is how many levels the instructor's grades lie above the
    check's, a mean over checks (Student's t), `drawn` the same drawn towards the school.
    """

    instructor: str
    pairs: int
    checks: int
    same: float
    kappa: Estimate
    finding: Finding
    drawn: Drawn | None = None


@dataclass(frozen=True, slots=True)
class Examined:
    """Every instructor, by name, and the school's means; `checks` flown by somebody else."""

    rises: tuple[Rise, ...]
    confirmations: tuple[Confirmation, ...]
    rise: Estimate
    direction: Estimate
    checks: int


def examine(lessons: pd.DataFrame, pairs: pd.DataFrame) -> Examined:
    """Both questions for every instructor; no rows give no instructors.

    Parameters
    ----------
    lessons : frame, one row a training lesson
        `instructor`, `z` (mean over its grades), `before` (bool: one of the last before a
        check).
    pairs : frame, one row a task of a stage check
        `instructor` (who last graded it in training, not the examiner), `check` (one id per
        check), `given` and `found`: the levels of the two, on one scale of whole steps.
    """
    rises = [_rise(str(name), rows) for name, rows in lessons.groupby("instructor")]
    confirmed = [_confirmation(str(name), rows) for name, rows in pairs.groupby("instructor")]
    told = _corrected([*(one.finding for one in rises), *(one.finding for one in confirmed)])
    first, second = told[: len(rises)], told[len(rises) :]
    rise, direction = (_school([one.estimate for one in part]) for part in (first, second))
    return Examined(
        tuple(
            replace(one, finding=finding, drawn=value)
            for one, finding, value in zip(rises, first, rise[0], strict=True)
        ),
        tuple(
            replace(one, finding=finding, drawn=value)
            for one, finding, value in zip(confirmed, second, direction[0], strict=True)
        ),
        rise=rise[1],
        direction=direction[1],
        checks=int(pairs["check"].nunique()),
    )


def _rise(name: str, rows: pd.DataFrame) -> Rise:
    inside = rows["before"].to_numpy(bool)
    z = rows["z"].to_numpy(float)
    before, others = z[inside], z[~inside]
    return Rise(name, len(before), len(others), Finding(*_welch(before, others)))


def _confirmation(name: str, rows: pd.DataFrame) -> Confirmation:
    given, found = rows["given"].to_numpy(float), rows["found"].to_numpy(float)
    values = np.arange(min(given.min(), found.min()), max(given.max(), found.max()) + 1)
    by_check = pd.Series(given - found).groupby(rows["check"].to_numpy()).mean().to_numpy()
    return Confirmation(
        name,
        len(rows),
        len(by_check),
        same=float((given == found).mean()),
        kappa=weighted_kappa(cross_table(given, found, values), Weights.LINEAR),
        finding=Finding(*_student(by_check)),
    )


def _welch(one: Floats, other: Floats) -> tuple[Estimate, float | None]:
    """Mean of one less mean of the other, interval and p (B. L. Welch, Biometrika 34, 1947)."""
    if min(len(one), len(other)) < FEWEST:
        return Estimate(
            None, why=f"Fewer than {FEWEST} lessons before checks, or others."
        ), None
    parts = np.array([each.var(ddof=1) / len(each) for each in (one, other)])
    freedom = np.array([len(one) - 1, len(other) - 1])
    whole = float(parts.sum())
    df = whole**2 / float((parts**2 / freedom).sum()) if whole > 0 else 1.0
    return _by_t(float(one.mean() - other.mean()), sqrt(whole), df)


def _student(values: Floats) -> tuple[Estimate, float | None]:
    """The mean of values with interval and p."""
    if len(values) < FEWEST:
        return Estimate(None, why=f"Fewer than {FEWEST} stage checks."), None
    error = float(values.std(ddof=1)) / sqrt(len(values))
    return _by_t(float(values.mean()), error, len(values) - 1)


def _by_t(value: float, error: float, df: float) -> tuple[Estimate, float | None]:
    if error <= 1e-12:
        return Estimate(value, why="The values do not vary."), None
    reach = float(t.ppf(0.975, df)) * error
    return Estimate(value, value - reach, value + reach), float(
        2 * t.sf(abs(value) / error, df)
    )


def _corrected(found: list[Finding]) -> list[Finding]:
    """The findings with p corrected over all of them."""
    tested = [(at, one.p) for at, one in enumerate(found) if one.p is not None]
    corrected = benjamini_hochberg([p for _, p in tested])
    for (at, _), p in zip(tested, corrected, strict=True):
        found[at] = replace(found[at], corrected=float(p))
    return found


def _school(told: Sequence[Estimate]) -> tuple[list[Drawn | None], Estimate]:
    """Each estimate drawn towards the mean of all that have an interval, and that mean."""
    known = [
        (at, one.value, (one.high - one.low) / 2 / Z95)
        for at, one in enumerate(told)
        if one.value is not None and one.low is not None and one.high is not None
    ]
    found: list[Drawn | None] = [None] * len(told)
    if not known:
        return found, Estimate(None, why="No instructor has enough stage checks.")
    each, whole = drawn([value for _, value, _ in known], [error for _, _, error in known])
    for (at, _, _), one in zip(known, each, strict=True):
        found[at] = one
    return found, Estimate(whole.value, *whole.interval(0.95))
