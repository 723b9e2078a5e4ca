"""What the forecasts were worth: of those at 70 to 80 %, how many came true."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from gradebook.analytics.metrics import BrierParts, ReliabilityBin, brier_parts, reliability
from gradebook.charts.chart import Chart
from gradebook.formats import count, share
from gradebook.pictures import figures, findings, numbers
from gradebook.pictures.school import reliability as drawn
from gradebook.pictures.series import ForecastBin
from gradebook.records.store.outcomes import TENTHS, Outcomes
from syllabus.saying import say

FEWEST = 50
"""With fewer forecasts than this nothing is said about how good they are."""


def forecasts(told: Sequence[Outcomes]) -> Chart:
    """Forecasts by tenths against the share that came true."""
    bins = [_bin(one) for one in _tenths(told) if one.n]
    return Chart(
        "forecasts",
        findings.reliability(bins),
        count(sum(one.n for one in told), "forecast"),
        drawn(bins),
        numbers.reliability(bins),
        partial(figures.reliability_figure, bins),
        why=(
            say(
                "Every forecast was made before its lesson, for the instructor who then "
                "graded, and kept as it was. On the diagonal forecasts come true as "
                "often as they say; the bars are 95 % Wilson intervals of the share that "
                "did."
            )
        ),
    )


def _bin(one: ReliabilityBin) -> ForecastBin:
    return ForecastBin(
        one.low,
        one.high,
        one.forecast,
        one.met,
        one.n,
        share_low=one.at_least,
        share_high=one.at_most,
    )


@dataclass(frozen=True, slots=True)
class Worth:
    """The Brier score of `n` forecasts, and its parts over tenths.

    `base` is the score of always saying the share that met the standard; `gain` how much of it
    the forecasts save (0-1, below 0: worse than that). `off` names tenths whose interval leaves
    the forecast out.
    """

    n: int
    score: float
    base: float
    parts: BrierParts
    off: tuple[str, ...]

    @property
    def gain(self) -> float:
        """The share of the base score saved."""
        return 1 - self.score / self.base if self.base else 0.0


@dataclass(frozen=True, slots=True)
class Made:
    """The forecasts made under one set of parameters, and what they were worth."""

    words: str
    worth: Worth | None
    n: int


def worth_by_fit(told: Sequence[Outcomes], fits: Mapping[str, str]) -> tuple[Made, ...]:
    """What forecasts were worth by the parameters they were made under, in order of `fits`.

    `fits`: words for each fit, by its id; the published defaults come first.
    """
    names: dict[str | None, str] = {None: say("The published defaults")}
    names.update(fits)
    found = []
    for fit, words in names.items():
        mine = [one for one in told if one.fit_id == fit]
        if mine:
            found.append(Made(words, worth(mine), sum(one.n for one in mine)))
    return tuple(found)


def worth(told: Sequence[Outcomes]) -> Worth | None:
    """What the forecasts were worth; None with fewer than `FEWEST`."""
    bins = _tenths(told)
    n, met = sum(one.n for one in bins), sum(one.met for one in bins)
    if n < FEWEST:
        return None
    # (p - y)^2 summed: the squares of all, and 1 - 2 p more for each that came true
    missed = sum(one.squares + (one.n - 2 * one.total if one.met else 0) for one in told)
    off = tuple(
        say("{low} to {high}", low=round(one.low * 100), high=share(one.high))
        for one in bins
        if one.is_off
    )
    rate = met / n
    return Worth(n, missed / n, rate * (1 - rate), _parts(bins), off)


def _parts(bins: Sequence[ReliabilityBin]) -> BrierParts:
    """The parts of the score, were the mean of its tenth told in place of every forecast."""
    tried = [one for one in bins if one.n]
    outcome = [np.arange(one.n) < one.met for one in tried]
    told = np.repeat([one.forecast for one in tried], [one.n for one in tried])
    return brier_parts(np.concatenate(outcome), told)


def _tenths(told: Sequence[Outcomes]) -> tuple[ReliabilityBin, ...]:
    n, met, total = [0] * TENTHS, [0] * TENTHS, [0.0] * TENTHS
    for one in told:
        n[one.tenth] += one.n
        met[one.tenth] += one.n if one.met else 0
        total[one.tenth] += one.total
    return reliability(n, met, total)
