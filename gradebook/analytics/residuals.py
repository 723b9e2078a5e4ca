"""What the residuals of an instructor's grades show: spread, halo and drift.

A residual z is how far a grade lay from its forecast, in the forecast's standard deviations.
Residuals of one lesson hang together (weather, a tired student), so errors are worked out over
lessons, not over grades.
"""

from collections.abc import Mapping
from math import pi, sqrt

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import norm, t

from gradebook.analytics.estimate import Estimate

SHUFFLES = 1999
SEED = 20260101
FEWEST_LESSONS = 5

Floats = NDArray[np.float64]
Told = tuple[Estimate, float | None]  # the estimate and its p-value
TOO_FEW: Told = (Estimate(None, why=f"Fewer than {FEWEST_LESSONS} lessons to compare."), None)


def without_trend(rows: pd.DataFrame) -> pd.DataFrame:
    """Lessons and z of one instructor, z less the straight line of its own over the months.

    What is left holds neither severity nor drift. One row, or one month: less the mean.
    """
    z, month = rows["z"].to_numpy(dtype=float), rows["month"].to_numpy(dtype=float)
    centred = month - month.mean() if len(month) else month
    square = float(centred @ centred)
    slope = float(centred @ z) / square if square > 0 else 0.0
    level = z - (z.mean() if len(z) else 0.0) - slope * centred
    return pd.DataFrame({"lesson": rows["lesson"].to_numpy(), "z": level})


def spreads(by_instructor: Mapping[str, pd.DataFrame]) -> dict[str, Told]:
    """Variance of z less the median of the other instructors; below 0: the middle is kept.

    The median, so that one who keeps to the middle does not make the others look wide. Frames
    come from `without_trend`. The 95 % interval and two-sided p rest on the spread of squares
    between lessons. Not told below five lessons, or without others who have as many.
    """
    squares = {name: _squares(rows) for name, rows in by_instructor.items()}
    known = {name: _ratio(one) for name, one in squares.items() if len(one) >= FEWEST_LESSONS}
    found = dict.fromkeys(by_instructor, TOO_FEW)
    for name, (value, error) in known.items():
        others = [one for other, one in known.items() if other != name]
        if others:
            median = float(np.median([one for one, _ in others]))
            variance = pi / 2 * float(np.mean([one**2 for _, one in others])) / len(others)
            found[name] = _by_normal(value - median, sqrt(error**2 + variance))
    return found


def _by_normal(value: float, error: float) -> Told:
    if error <= 1e-12:
        return Estimate(value, why="The residuals do not vary."), None
    reach = float(norm.ppf(0.975)) * error
    return Estimate(value, value - reach, value + reach), float(2 * norm.sf(abs(value) / error))


def _squares(rows: pd.DataFrame) -> Floats:
    """Sum of squares and count of each lesson, shape (lessons, 2)."""
    grouped = (rows["z"] ** 2).groupby(rows["lesson"])
    return np.column_stack([grouped.sum(), grouped.count()]).astype(float)


def _ratio(sums: Floats) -> tuple[float, float]:
    """Sum over count, and its standard error from the lessons (ratio estimate)."""
    total, count = sums.sum(axis=0)
    off = sums[:, 0] - total / count * sums[:, 1]
    lessons = len(sums)
    return float(total / count), sqrt(lessons / (lessons - 1) * float(off @ off)) / float(count)


def halos(by_instructor: Mapping[str, pd.DataFrame]) -> dict[str, Told]:
    """Mean product of two z of one lesson less the school's; above 0: one impression for all.

    The school's value is the day effect that all lessons share. The one-sided p comes from
    lessons dealt to instructors anew, 1999 times from a fixed seed. Not told below five lessons
    with two grades, or for one instructor alone. The interval holds the middle 95 % of the
    chance values, moved to the value.
    """
    pairs = {name: _pairs(rows) for name, rows in by_instructor.items()}
    pooled = np.concatenate([*pairs.values(), np.empty((0, 2))])
    sizes = np.array([len(one) for one in pairs.values()], dtype=int)
    told = dict.fromkeys(pairs, TOO_FEW)
    enough = sizes >= FEWEST_LESSONS
    if len(sizes) < 2 or not enough.any():
        return told
    school = pooled[:, 0].sum() / pooled[:, 1].sum()
    seen = _excess(pooled, sizes, enough, school)
    shuffler = np.random.default_rng(SEED)
    dealt = (shuffler.permutation(len(pooled)) for _ in range(SHUFFLES))
    # Places are shuffled and then taken: three times as quick as shuffling rows.
    chance = np.array([
        _excess(pooled.take(places, axis=0), sizes, enough, school) for places in dealt
    ])  # fmt: skip
    p = (1 + (chance >= seen - 1e-12).sum(axis=0)) / (1 + SHUFFLES)
    low, high = np.percentile(chance - chance.mean(axis=0), [2.5, 97.5], axis=0)
    names = [name for name, kept in zip(pairs, enough, strict=True) if kept]
    for at, name in enumerate(names):
        value = float(seen[at])
        estimate = Estimate(value, value - float(high[at]), value - float(low[at]))
        told[name] = estimate, float(p[at])
    return told


def _pairs(rows: pd.DataFrame) -> Floats:
    """Sum of the products of all pairs, and pairs, of each lesson with two grades or more."""
    grouped = rows["z"].groupby(rows["lesson"])
    total, count = grouped.sum().to_numpy(float), grouped.count().to_numpy(float)
    squares = (rows["z"] ** 2).groupby(rows["lesson"]).sum().to_numpy(float)
    both = np.column_stack([(total**2 - squares) / 2, count * (count - 1) / 2])
    return np.asarray(both[both[:, 1] > 0])


def _excess(
    pooled: Floats, sizes: NDArray[np.int_], enough: NDArray[np.bool_], school: float
) -> Floats:
    """Mean product of each instructor with enough lessons less the school's."""
    filled = sizes > 0
    starts = (np.cumsum(sizes) - sizes)[filled]
    sums = np.add.reduceat(pooled, starts, axis=0)[enough[filled]]
    return np.asarray(sums[:, 0] / sums[:, 1] - school)


def drift_of(rows: pd.DataFrame) -> Told:
    """Change of the mean z of a lesson a month, by least squares; above 0: growing lenient.

    95 % interval and two-sided p by Student's t over lessons. Not told below five lessons or
    within one month.
    """
    grouped = rows.groupby("lesson")
    z, month = grouped["z"].mean().to_numpy(float), grouped["month"].first().to_numpy(float)
    if len(z) < FEWEST_LESSONS:
        return Estimate(None, why=f"Fewer than {FEWEST_LESSONS} lessons."), None
    centred = month - month.mean()
    square = float(centred @ centred)
    if square == 0:
        return Estimate(None, why="All lessons lie in one month."), None
    slope = float(centred @ z) / square
    off = z - z.mean() - slope * centred
    error = sqrt(float(off @ off) / (len(z) - 2) / square)
    if error <= 1e-12:
        return Estimate(slope, why="The lessons lie on the line without error."), None
    reach = float(t.ppf(0.975, len(z) - 2)) * error
    p = float(2 * t.sf(abs(slope) / error, len(z) - 2))
    return Estimate(slope, slope - reach, slope + reach), p
