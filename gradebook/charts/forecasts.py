"""What the forecasts were worth: of those at 70 to 80 %, how many came true."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from gradebook.analytics.metrics import BrierParts, ReliabilityBin, brier, brier_parts
from gradebook.analytics.metrics import reliability as bins_of
from gradebook.charts.chart import Chart
from gradebook.formats import count, share
from gradebook.pictures import figures, findings, numbers
from gradebook.pictures.school import reliability
from gradebook.pictures.series import ForecastBin
from gradebook.records.store.outcomes import Outcome
from syllabus.saying import say

FEWEST = 50
"""With fewer forecasts than this nothing is said about how good they are."""


def forecasts(chances: Sequence[float], met: Sequence[bool]) -> Chart:
    """Forecasts by tenths against the share that came true."""
    bins = [_bin(one) for one in bins_of(met, chances) if one.n]
    return Chart(
        "forecasts",
        findings.reliability(bins),
        count(len(met), "forecast"),
        reliability(bins),
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


def worth_by_fit(told: Sequence[Outcome], fits: Mapping[str, str]) -> tuple[Made, ...]:
    """What forecasts were worth by the parameters they were made under, in order of `fits`.

    `fits`: words for each fit, by its id; the published defaults come first.
    """
    names: dict[str | None, str] = {None: say("The published defaults")}
    names.update(fits)
    found = []
    for fit, words in names.items():
        mine = [one for one in told if one.fit_id == fit]
        if mine:
            judged = worth([one.chance for one in mine], [one.met for one in mine])
            found.append(Made(words, judged, len(mine)))
    return tuple(found)


def worth(chances: Sequence[float], met: Sequence[bool]) -> Worth | None:
    """What the forecasts were worth; None with fewer than `FEWEST`."""
    if len(met) < FEWEST:
        return None
    y, p = np.array(met, float), np.array(chances, float)
    bins = bins_of(y, p)
    place = np.minimum((p * len(bins) + 1e-9).astype(int), len(bins) - 1)
    grouped = np.array([one.forecast for one in bins])[place]
    off = tuple(
        say("{low} to {high}", low=round(one.low * 100), high=share(one.high))
        for one in bins
        if one.is_off
    )
    base = float(y.mean() * (1 - y.mean()))
    return Worth(len(met), brier(y, p), base, brier_parts(y, grouped), off)
