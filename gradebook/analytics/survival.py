"""Time to an event when some are still waiting: Kaplan-Meier curves and the log-rank test.

Time is whatever is counted: attempts, flight hours, days. Who has not had the event yet is
censored at the last time seen, never left out: an average of those who finished is too short.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri
from scipy.stats import chi2 as chi2_distribution

from gradebook.analytics.estimate import Estimate

FEW_EVENTS = 10

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Survival:
    """A Kaplan-Meier curve: one element an event time, ascending.

    `share` is the part that has not had the event just after that time, `low` and `high` its
    interval, `variance` Greenwood's. `n` people, `followed` to this time at most; `few` says
    that there are fewer than ten events.
    """

    times: Floats
    at_risk: Ints
    events: Ints
    share: Floats
    variance: Floats
    low: Floats
    high: Floats
    n: int
    followed: float

    @property
    def total(self) -> int:
        """Events in all."""
        return int(self.events.sum())

    @property
    def few(self) -> bool:
        """Fewer than ten events: the curve says little."""
        return self.total < FEW_EVENTS

    @property
    def median(self) -> Estimate:
        """The first time at which the share is at most one half; what is not reached is None.

        The interval holds the times whose share cannot be told from one half (Brookmeyer and
        Crowley, Biometrics 38 (1982) 29-41, from memory).
        """
        value, low, high = (
            _first(self.times, curve <= 0.5 + 1e-12)
            for curve in (self.share, self.low, self.high)
        )
        why = "" if value is not None else "Half of them have not had the event yet."
        return Estimate(value, low, high, why)

    def share_at(self, time: float) -> Estimate:
        """Share without the event after `time`, such as not proficient after k attempts.

        None when nobody was followed that far and some had no event yet; without an interval
        before the first event.
        """
        place = int(np.searchsorted(self.times, time, side="right")) - 1
        done = len(self.share) > 0 and self.share[-1] == 0
        if time > self.followed and not done:
            return Estimate(None, why="Nobody has been followed that far.")
        if place < 0:
            return Estimate(1.0, why="No event by then.")
        return Estimate(
            float(self.share[place]), float(self.low[place]), float(self.high[place])
        )


def _first(times: Floats, reached: NDArray[np.bool_]) -> float | None:
    return float(times[np.argmax(reached)]) if reached.any() else None


def kaplan_meier(times: ArrayLike, events: ArrayLike, confidence: float = 0.95) -> Survival:
    """The Kaplan-Meier curve with Greenwood's variance and a log-log interval.

    Who is censored at the time of an event counts as at risk there. Where the share is 0 the
    interval runs from 0 to the upper end before it (1 at the start). Nobody (n = 0) or no event
    gives a curve without points.

    Parameters
    ----------
    times : array, shape (n,)
        When the event came or the person was last seen; at least 0.
    events : array of bool, shape (n,)
        Whether the event came.

    Raises
    ------
    ValueError
        Arrays of different length, a time that is negative or no number.

    References
    ----------
    E. L. Kaplan and P. Meier, Journal of the American Statistical Association 53 (1958)
    457-481; log-log interval: J. D. Kalbfleisch and R. L. Prentice (both from memory).
    """
    time, event = _checked(times, events)
    points, deaths, at_risk = _life_table(time, event)
    share: Floats = np.cumprod(1 - deaths / at_risk, dtype=np.float64)
    alive = at_risk > deaths
    terms = deaths / np.where(alive, at_risk * (at_risk - deaths), 1)
    spread: Floats = np.cumsum(np.where(alive, terms, 0), dtype=np.float64)
    low, high = _log_log(share, spread, float(ndtri((1 + confidence) / 2)))
    followed = float(time.max()) if len(time) else 0.0
    variance: Floats = np.asarray(share**2 * spread, dtype=np.float64)
    return Survival(
        points, at_risk, deaths, share, variance, low, high, n=len(time), followed=followed
    )


def _log_log(share: Floats, spread: Floats, z: float) -> tuple[Floats, Floats]:
    """Interval of each share; the log of a share of 0 is not taken."""
    some = share > 0
    logs = np.log(np.where(some, share, 0.5))
    reach = np.exp(z * np.sqrt(spread) / np.abs(logs))
    low, high = np.exp(logs * reach), np.exp(logs / reach)
    before = np.concatenate([[1.0], high[:-1]])
    return np.where(some, low, 0.0), np.where(some, high, before)


def _checked(times: ArrayLike, events: ArrayLike) -> tuple[Floats, NDArray[np.bool_]]:
    time, event = np.asarray(times, dtype=float), np.asarray(events, dtype=bool)
    if time.ndim != 1 or time.shape != event.shape:
        raise ValueError("Every time needs its event flag.")
    if not np.all(time >= 0):
        raise ValueError("A time is a number of at least 0.")
    return time, event


def _life_table(time: Floats, event: NDArray[np.bool_]) -> tuple[Floats, Ints, Ints]:
    """Times with an event, how many had it there, and how many were at risk."""
    points, deaths = np.unique(time[event], return_counts=True)
    at_risk = len(time) - np.searchsorted(np.sort(time), points, side="left")
    return points, deaths.astype(np.int64), at_risk.astype(np.int64)


@dataclass(frozen=True, slots=True)
class LogRank:
    """Log-rank test of groups: events seen and expected in each, if all were alike.

    `chi2` and `p` are None when the groups cannot be compared, and `why` says why; `few`: fewer
    than ten events in all.
    """

    groups: tuple[str, ...]
    observed: tuple[int, ...]
    expected: tuple[float, ...]
    chi2: float | None
    df: int
    p: float | None
    few: bool
    why: str = ""


def log_rank(times: ArrayLike, events: ArrayLike, groups: ArrayLike) -> LogRank:
    """Do the event times of two or more groups differ more than chance would have it.

    No test with one group, without an event, or when the groups were never at risk together.

    Parameters
    ----------
    times, events : array, shape (n,)
        As for `kaplan_meier`.
    groups : array of str, shape (n,)

    Raises
    ------
    ValueError
        As `kaplan_meier`; also when a group is missing.

    References
    ----------
    N. Mantel, Cancer Chemotherapy Reports 50 (1966) 163-170; R. Peto and J. Peto, Journal of
    the Royal Statistical Society A 135 (1972) 185-207 (both from memory).
    """
    time, event = _checked(times, events)
    group = np.asarray(groups, dtype=str)
    if group.shape != time.shape:
        raise ValueError("Everybody needs a group.")
    names = np.unique(group)
    points, deaths, at_risk = _life_table(time, event)
    inside = np.array([_at_risk_in(time[group == name], points) for name in names])
    inside = inside.reshape(len(names), len(points))
    observed = np.array([event[group == name].sum() for name in names], dtype=int)
    share = inside / at_risk
    expected = share @ deaths
    chi2, df = _chi2(observed - expected, _covariance(share, deaths, at_risk))
    return LogRank(
        groups=tuple(map(str, names)),
        observed=tuple(map(int, observed)),
        expected=tuple(map(float, expected)),
        chi2=chi2 if df else None,
        df=df,
        p=float(chi2_distribution.sf(chi2, df)) if df else None,
        few=int(observed.sum()) < FEW_EVENTS,
        why="" if df else "There are not two groups with events to compare.",
    )


def _at_risk_in(time: Floats, points: Floats) -> Floats:
    return (len(time) - np.searchsorted(np.sort(time), points, side="left")).astype(float)


def _covariance(share: Floats, deaths: Ints, at_risk: Ints) -> Floats:
    """Hypergeometric covariance of the events by group, summed over the event times."""
    factor = deaths * (at_risk - deaths) / np.maximum(at_risk - 1, 1)
    return np.asarray(np.diag(share @ factor) - (share * factor) @ share.T)


def _chi2(excess: Floats, covariance: Floats) -> tuple[float, int]:
    """The statistic and its degrees of freedom, which may fall short of groups less one."""
    if not len(excess):
        return 0.0, 0
    df = int(np.linalg.matrix_rank(covariance, tol=1e-9))
    return float(excess @ np.linalg.pinv(covariance, rcond=1e-9) @ excess), df
