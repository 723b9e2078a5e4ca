"""The numbers of a chart as a table: columns and rows of words, for the page and for CSV."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from gradebook.formats import share
from gradebook.pictures.evidence import begun
from gradebook.pictures.plane import said_at
from gradebook.pictures.series import (
    CohortBand,
    ForecastBin,
    Opportunity,
    ScoreRun,
    SeverityRow,
    Spot,
    SurvivalCurve,
    TrendPoint,
    by_clearness,
    place,
)
from syllabus.saying import capital, say


@dataclass(frozen=True, slots=True)
class Numbers:
    """A table; the first cell of each row names it, an empty cell holds nothing."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def _table(columns: Iterable[str], rows: Iterable[Iterable[str]]) -> Numbers:
    return Numbers(tuple(columns), tuple(tuple(row) for row in rows))


def _heading(spots: Sequence[Spot], unit: str) -> str:
    counted = not spots or isinstance(spots[0], int | float)
    return capital(say(unit)) if counted else say("Date")


def _answer(value: bool | None) -> str:
    return {True: say("yes"), False: say("no"), None: ""}[value]


def trend(points: Sequence[TrendPoint], unit: str = "attempt") -> Numbers:
    """The chance with its interval and the grade, for each point."""
    spot = _heading([point.at for point in points], unit)
    columns = (spot, say("Chance"), say("80 % from"), say("80 % to"), say("Grade met it"))
    return _table(columns, (_trend_row(point) for point in points))


def _trend_row(point: TrendPoint) -> list[str]:
    if point.chance is None:
        return [said_at(point.at), "", "", "", _answer(point.met)]
    chances = (point.chance, point.low, point.high)
    return [said_at(point.at), *map(share, chances), _answer(point.met)]


def run(opportunities: Sequence[Opportunity], unit: str = "attempt") -> Numbers:
    """Whether each opportunity had the error."""
    spot = _heading([one.at for one in opportunities], unit)
    rows = ((said_at(one.at), _answer(one.error)) for one in opportunities)
    return _table((spot, say("Error marked")), rows)


def proof(runs: Sequence[ScoreRun]) -> Numbers:
    """The score after each attempt, with the line it is held against."""
    rows = (
        (at, say("relapse") if turn % 2 else say("proof"), score, run.threshold)
        for turn, (start, run) in enumerate(begun(runs))
        for at, score in enumerate(run.scores, start + 1)
    )
    return _table(
        (say("Attempt"), say("Test"), say("Score"), say("Decision line")),
        ((str(at), test, f"{score:.2f}", f"{line:.2f}") for at, test, score, line in rows),
    )


def severity(rows: Sequence[SeverityRow]) -> Numbers:
    """Each instructor's severity with both intervals."""
    intervals = (say("80 % from"), say("80 % to"), say("95 % from"), say("95 % to"))
    return _table(
        (
            say("Instructor"),
            say("Severity"),
            *intervals,
            say("Grades"),
            say("Clearly different"),
        ),
        (_severity_row(row) for row in by_clearness(rows)),
    )


def _severity_row(row: SeverityRow) -> list[str]:
    values = (row.value, row.low, row.high, row.low95, row.high95)
    return [row.name, *(f"{value:+.2f}" for value in values), str(row.n), _answer(row.clear)]


def survival(curves: Sequence[SurvivalCurve], unit: str = "lesson") -> Numbers:
    """Each step of each group."""
    return _table(
        (capital(say(unit)), say("Group"), say("At risk"), say("Not yet proficient")),
        (
            (f"{time:g}", curve.name or say("all"), str(at_risk), share(value))
            for curve in curves
            for time, value, at_risk in zip(
                curve.times, curve.shares, curve.at_risk, strict=True
            )
        ),
    )


def reliability(bins: Sequence[ForecastBin]) -> Numbers:
    """Each group of forecasts with what came true."""
    columns = (
        say("Forecasts"),
        say("Mean forecast"),
        say("Came true"),
        say("Of"),
        say("Share"),
        say("95 % from"),
        say("95 % to"),
    )
    return _table((*columns, say("As often as said")), (_bin_row(one) for one in bins))


def _bin_row(one: ForecastBin) -> list[str]:
    group = say("{low} to {high}", low=round(one.low * 100), high=share(one.high))
    shares = (one.share, one.share_low, one.share_high)
    return [
        group,
        share(one.forecast),
        str(one.k),
        str(one.n),
        *map(share, shares),
        _answer(one.agrees),
    ]


def cohort(
    own: Sequence[tuple[Spot, float]], bands: Sequence[CohortBand], unit: str = "attempt"
) -> Numbers:
    """The student and the cohort's percentiles at each spot of either."""
    values = {place(spot): (spot, value) for spot, value in own}
    known = {place(one.at): one for one in bands}
    spots = {at: spot for at, (spot, _) in values.items()} | {
        at: one.at for at, one in known.items()
    }
    columns = (
        say("This student"),
        "10th",
        "25th",
        say("Median"),
        "75th",
        say("90th percentile"),
        say("Students"),
    )
    rows = (
        [
            said_at(spots[at]),
            share(values[at][1]) if at in values else "",
            *_band_cells(known.get(at)),
        ]
        for at in sorted(spots)
    )
    return _table((_heading(list(spots.values()), unit), *columns), rows)


def _band_cells(band: CohortBand | None) -> list[str]:
    if band is None:
        return [""] * 6
    percentiles = (band.p10, band.p25, band.p50, band.p75, band.p90)
    return [*map(share, percentiles), str(band.n)]
