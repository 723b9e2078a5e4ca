"""Invented numbers for the charts: one full example of each."""

from datetime import date, timedelta

from gradebook.analytics.intervals import wilson
from gradebook.pictures.series import (
    CohortBand,
    ForecastBin,
    Opportunity,
    ScoreRun,
    SeverityRow,
    SurvivalCurve,
    TrendPoint,
)

DAY = date(2026, 3, 2)


def trend(n, chances=(0.3, 0.5, 0.65, 0.75, 0.85)):
    """The first n of five grades, a week apart; the second did not meet the standard."""
    return [
        TrendPoint(DAY + timedelta(weeks=at), chance, chance - 0.2, chance + 0.1, at != 1)
        for at, chance in enumerate(chances[:n])
    ]


def opportunities(marks):
    """A day each: `x` an error, `o` clean."""
    return [Opportunity(DAY + timedelta(days=at), one == "x") for at, one in enumerate(marks)]


def runs():
    """Proof at the third attempt, two clean after it."""
    return [ScoreRun((1.0, 0.0, 3.4), 3.35, True), ScoreRun((0.0, 0.9), 2.5, False)]


def instructors():
    """Two clear ones and one who cannot be told from the school."""
    return [
        SeverityRow("Ailsa", -0.05, -0.2, 0.1, -0.28, 0.18, 212, False),
        SeverityRow("Dov", -0.31, -0.45, -0.17, -0.52, -0.1, 180, True),
        SeverityRow("Benedict", 0.42, 0.28, 0.56, 0.2, 0.64, 140, True),
    ]


def curve(name="", n=4):
    """Four students: one at lesson 3, two at lesson 5, one still training after 8."""
    return SurvivalCurve(name, n, 8, (3, 5), (0.75, 0.25), (4, 3))


def one_bin(forecast, k, n):
    """Forecasts within five hundredths of their mean, of which k of n came true."""
    low, high = wilson(k, n)
    return ForecastBin(forecast - 0.05, forecast + 0.05, forecast, k, n, low, high)


def cohort(n):
    """Twelve students at attempts 1 to n, better each time."""
    return [
        CohortBand(at, *(0.05 * at + part for part in (0.1, 0.2, 0.3, 0.4, 0.5)), 12)
        for at in range(1, n + 1)
    ]
