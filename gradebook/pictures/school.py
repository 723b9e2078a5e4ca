"""What a school learns of itself: who grades how, how long it takes, what forecasts hold."""

from collections.abc import Sequence
from math import floor, log10

from markupsafe import Markup

from gradebook.formats import count
from gradebook.pictures import findings
from gradebook.pictures.plane import LINE, PERCENT, WIDTH, Plane, chart, words
from gradebook.pictures.series import (
    SEVERITY,
    ForecastBin,
    Gauge,
    SeverityRow,
    Spot,
    SurvivalCurve,
    by_clearness,
)
from gradebook.pictures.svg import element, number
from syllabus.saying import Said, figure, joined, say, told

ROW = 34
ROOM = 40
"""Least distance between two counts at risk."""
STROKES = ("chart-line", "chart-line chart-second", "chart-line chart-third")


def caterpillar(rows: Sequence[SeverityRow], gauge: Gauge = SEVERITY) -> Markup:
    """Instructors on a gauge: a disc, 80 % thick and 95 % thin, and a line at zero.

    Clear differences stand first, highest on top, with a filled disc; the others by name with
    an open one, for their order would be noise.
    """
    ordered = by_clearness(rows)
    reach = _round_up(max((max(abs(r.low95), abs(r.high95)) for r in rows), default=1.0))
    bottom = 28 + ROW * max(1, len(rows))
    plane = Plane((-reach, reach), (0, 1), bottom, left=2, right=WIDTH - 2, inset=12)
    parts = [
        words(joined(" ", ("←", say(gauge.low))), (2, 13), "start"),
        words(joined(" ", (say(gauge.high), "→")), (WIDTH - 2, 13), "end"),
        *([plane.upright(0, "chart-zero"), *_scale(plane, reach, gauge.unit)] if rows else []),
    ]
    for at, row in enumerate(ordered):
        parts += _interval(plane, row, gauge, 28 + ROW * at)
    if not rows:
        parts.append(plane.message(_small(gauge.none)))
    return chart(bottom + 2 * LINE + 4, findings.severity(rows, gauge), parts)


def _small(said: str) -> str:
    """English words that begin small; another language writes them as it does."""
    return Said.by(said[0].lower() + said[1:], lambda tongue: str(told(said, tongue)))


def _round_up(value: float) -> float:
    """The next value with one significant digit; 1 for 0."""
    if value <= 0:
        return 1.0
    step = 10 ** floor(log10(value))
    return float(step * -(-value // step))


def _scale(plane: Plane, reach: float, unit: str) -> list[Markup]:
    y = plane.bottom + LINE
    low, high = f"\N{MINUS SIGN}{reach:g}", f"+{reach:g}"
    ticks = [(-reach, figure(low)), (0.0, "0"), (reach, figure(high))]
    values = [words(said, (plane.x(value), y), "middle") for value, said in ticks]
    return [*values, words(say(unit), (WIDTH / 2, y + LINE), "middle")]


def _interval(plane: Plane, row: SeverityRow, gauge: Gauge, top: float) -> list[Markup]:
    y = top + 23
    wide = f"M{number(plane.x(row.low95))} {number(y)}H{number(plane.x(row.high95))}"
    narrow = f"M{number(plane.x(row.low))} {number(y)}H{number(plane.x(row.high))}"
    name = "chart-said" if row.clear else "chart-words"
    mark = "chart-met" if row.clear else "chart-open"
    return [
        words(row.name, (2, top + 12), "start", name),
        words(count(row.n, gauge.counted), (WIDTH - 2, top + 12), "end"),
        element("path", class_="chart-wide", d=wide),
        element("path", class_="chart-narrow", d=narrow),
        element("circle", class_=mark, cx=plane.x(row.value), cy=y, r=5),
    ]


def survival_steps(curves: Sequence[SurvivalCurve], unit: str = "lesson") -> Markup:
    """Kaplan-Meier steps of those not yet proficient, with the number at risk.

    Up to three groups are told apart by the stroke; groups without students are left out. A
    curve that knows its 95 % interval stands in a band.
    """
    shown = [curve for curve in curves if curve.n][: len(STROKES)]
    last = max((curve.followed for curve in shown), default=0)
    plane = Plane((0, last), (0, 1), bottom=128, inset=0)
    parts = [
        *plane.rungs(PERCENT),
        plane.caption(say("not yet proficient")),
        *plane.feet([0, last] if shown else [], unit),
        *(part for curve in shown for part in plane.ribbon(band(curve), "chart-band")),
    ]
    for at, (curve, stroke) in enumerate(zip(shown, STROKES, strict=False)):
        parts += plane.steps(steps(curve), stroke)
        parts += _at_risk(plane, curve, stroke, plane.bottom + 2 * LINE + 6 + 2 * LINE * at)
    if not shown:
        parts.append(plane.message(say("no student has begun yet")))
    height = plane.bottom + LINE + 8 + 2 * LINE * len(shown)
    return chart(height, findings.survival(curves, unit), parts)


def steps(curve: SurvivalCurve) -> list[tuple[Spot, float]]:
    """(time, share) from the beginning to the last time anybody was seen."""
    known = [(0.0, 1.0), *zip(curve.times, curve.shares, strict=True)]
    return [*known, (curve.followed, known[-1][1])]


def band(curve: SurvivalCurve) -> list[tuple[Spot, float, float]]:
    """(time, low, high) of the interval, each time twice where the curve steps; or nothing."""
    if not curve.lows:
        return []
    low, high = 1.0, 1.0
    corners: list[tuple[Spot, float, float]] = [(0.0, low, high)]
    for time, down, up in zip(curve.times, curve.lows, curve.highs, strict=True):
        corners += [(time, low, high), (time, down, up)]
        low, high = down, up
    return [*corners, (curve.followed, low, high)]


def _at_risk(plane: Plane, curve: SurvivalCurve, stroke: str, y: float) -> list[Markup]:
    """The stroke and the name of the group; under it how many are at risk at some events."""
    sample = element("path", class_=stroke, d=f"M2 {number(y - 4)}H{number(plane.left - 8)}")
    said = say("still counted")
    if curve.name:
        said = say("{curve}, still counted", curve=curve.name)
    drawn = [sample, words(said, (plane.left, y), "start")]
    drawn.append(words(str(curve.n), (plane.left, y + LINE), "start"))
    free = plane.left + ROOM
    for time, people in zip(curve.times, curve.at_risk, strict=True):
        if (x := plane.x(time)) >= free:
            drawn.append(words(str(people), (x, y + LINE), "middle"))
            free = x + ROOM
    return drawn


def reliability(bins: Sequence[ForecastBin]) -> Markup:
    """Forecasts against what came true: a disc with its 95 % Wilson interval for each group.

    On the diagonal, forecasts come true as often as they say. A filled disc agrees with its
    forecast, an open diamond does not. Under each stands how many forecasts it holds.
    """
    plane = Plane((0, 1), (0, 1), bottom=200)
    y = plane.bottom + LINE
    parts = [
        *plane.rungs(PERCENT),
        plane.caption(say("share that came true")),
        *plane.line([(0, 0), (1, 1)], "chart-target"),
        words("0", (plane.x(0), y), "middle"),
        words(say("forecast"), (plane.x(0.5), y), "middle"),
        words("100 %", (plane.right, y), "end"),
        *_tried(plane, bins),
    ]
    if not bins:
        parts.append(plane.message(say("no forecast tried yet")))
    return chart(plane.bottom + 2 * LINE + 6, findings.reliability(bins), parts)


def _tried(plane: Plane, bins: Sequence[ForecastBin]) -> list[Markup]:
    y = plane.bottom + 2 * LINE
    drawn = [words("n", (plane.left - 5, y), "end")] if bins else []
    for one in bins:
        x = number(plane.x(one.forecast))
        ends = f"M{x} {number(plane.y(one.share_low))}V{number(plane.y(one.share_high))}"
        drawn += [
            element("path", class_="chart-wide", d=ends),
            _share(plane, one),
            words(_short(one.n), (plane.x((one.low + one.high) / 2), y), "middle"),
        ]
    return drawn


def _share(plane: Plane, one: ForecastBin) -> Markup:
    if one.agrees:
        return plane.disc(one.forecast, one.share, "chart-met", 4)
    corner = plane.at(one.forecast, one.share)
    return element("path", class_="chart-off", d=f"M{corner}m0-5l5 5l-5 5l-5-5Z")


def _short(n: int) -> str:
    """A count in at most four characters up to 999,000."""
    return str(n) if n < 1000 else f"{round(n / 1000)}k"
