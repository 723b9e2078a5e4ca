"""One chart of each kind from invented numbers: what the page of signs shows."""

from collections.abc import Callable
from datetime import date, timedelta
from functools import partial

from markupsafe import Markup

from gradebook.analytics.intervals import wilson
from gradebook.charts.chart import Chart
from gradebook.pictures import evidence, figures, findings, numbers, progress, school
from gradebook.pictures.series import (
    CohortBand,
    ForecastBin,
    Opportunity,
    ScoreRun,
    SeverityRow,
    SurvivalCurve,
    TrendPoint,
)

BEGAN = date(2026, 3, 2)
TARGET = 0.2


def sample_charts() -> tuple[Chart, ...]:
    """Of one task: trend, proof, errors, cohort; of the school: severity, times, forecasts."""
    return (_trend(), _proof(), _errors(), _cohort(), _severity(), _times(), _forecasts())


def _chart(
    key: str,
    title: str,
    n: str,
    picture: Markup,
    table: tuple[numbers.Numbers, Callable[[], Markup]],
) -> Chart:
    return Chart(key, title, n, picture, *table)


def _trend() -> Chart:
    chances = (0.3, 0.5, 0.65, 0.75, 0.85)
    points = [
        TrendPoint(BEGAN + timedelta(weeks=at), chance, chance - 0.2, chance + 0.1, at != 1)
        for at, chance in enumerate(chances)
    ]
    table = (numbers.trend(points), partial(figures.trend_figure, points))
    return _chart(
        "trend", findings.trend(points), "5 grades", progress.trend_band(points), table
    )


def _proof() -> Chart:
    runs = [ScoreRun((1.0, 0.0, 3.4), 3.35, True), ScoreRun((0.0, 0.9), 2.5, False)]
    table = (numbers.proof(runs), partial(figures.proof_figure, runs))
    return _chart(
        "proof", findings.proof(runs), "5 attempts", evidence.proof_chart(runs), table
    )


def _errors() -> Chart:
    flown = [
        Opportunity(BEGAN + timedelta(weeks=at), mark == "x")
        for at, mark in enumerate("oxxoxooo")
    ]
    table = (numbers.run(flown), partial(figures.run_figure, flown, TARGET))
    picture = evidence.run_chart(flown, TARGET)
    return _chart("errors", findings.run(flown, TARGET), "8 lessons", picture, table)


def _cohort() -> Chart:
    own = [(at, 0.2 + 0.12 * at) for at in range(1, 6)]
    rising = ((at, 0.05 * at + 0.1) for at in range(1, 9))
    bands = [
        CohortBand(at, low, low + 0.1, low + 0.2, low + 0.3, low + 0.4, 12)
        for at, low in rising
    ]
    table = (numbers.cohort(own, bands), partial(figures.cohort_figure, own, bands))
    title, picture = findings.cohort(own, bands), progress.cohort_strip(own, bands)
    return _chart("cohort", title, "12 students", picture, table)


def _severity() -> Chart:
    rows = [
        SeverityRow("Instructor A", -0.05, -0.2, 0.1, -0.28, 0.18, 212, clear=False),
        SeverityRow("Instructor B", -0.31, -0.45, -0.17, -0.52, -0.1, 180, clear=True),
        SeverityRow("Instructor C", 0.42, 0.28, 0.56, 0.2, 0.64, 140, clear=True),
    ]
    table = (numbers.severity(rows), partial(figures.severity_figure, rows))
    title, picture = findings.severity(rows), school.caterpillar(rows)
    return _chart("severity", title, "532 grades", picture, table)


def _times() -> Chart:
    curves = [SurvivalCurve("", 4, 8, (3, 5), (0.75, 0.25), (4, 3))]
    table = (numbers.survival(curves), partial(figures.survival_figure, curves))
    title, picture = findings.survival(curves), school.survival_steps(curves)
    return _chart("times", title, "4 students", picture, table)


def _forecasts() -> Chart:
    told = ((0.3, 5, 20), (0.6, 13, 20), (0.9, 18, 20))
    bins = [ForecastBin(p - 0.05, p + 0.05, p, k, n, *wilson(k, n)) for p, k, n in told]
    table = (numbers.reliability(bins), partial(figures.reliability_figure, bins))
    title, picture = findings.reliability(bins), school.reliability(bins)
    return _chart("forecasts", title, "60 forecasts", picture, table)
