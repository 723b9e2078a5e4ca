"""How a student comes on: the chance of meeting the standard, alone and against the cohort."""

from collections.abc import Sequence

from markupsafe import Markup

from gradebook.pictures import findings
from gradebook.pictures.arcs import GREEN_FROM
from gradebook.pictures.plane import LINE, PERCENT, Plane, chart, extent
from gradebook.pictures.series import CohortBand, Spot, TrendPoint
from syllabus.saying import say

HEIGHT = 150
FLOOR = HEIGHT - LINE - 6
CHANCE = say("chance of meeting the standard")


def trend_band(
    points: Sequence[TrendPoint], band: float = GREEN_FROM, unit: str = "attempt"
) -> Markup:
    """The chance as a line in its 80 % interval, over the grades given.

    Parameters
    ----------
    points
        Oldest first, any number. A filled disc at the top is a grade that met the standard,
        an open one at the bottom a grade that did not. A point without chance breaks nothing:
        the line goes on from the next that has one.
    band
        Where the green band begins, 0-1.
    unit
        What `at` counts; days need none.
    """
    spots = [point.at for point in points]
    plane = Plane(extent(spots), (0, 1), bottom=FLOOR)
    known = [(p.at, p.chance, p.low, p.high) for p in points if p.chance is not None]
    parts = [
        *_paper(plane, spots, unit, band),
        *plane.ribbon([(at, low, high) for at, _, low, high in known], "chart-band"),
        *plane.line([(at, chance) for at, chance, _, _ in known], "chart-line"),
        *([plane.disc(known[-1][0], known[-1][1], "chart-now", 3)] if known else []),
        *_grades(plane, points),
    ]
    if not points:
        parts.append(plane.message(say("no grades yet")))
    return chart(HEIGHT, findings.trend(points, band), parts)


def _paper(plane: Plane, spots: Sequence[Spot], unit: str, band: float) -> list[Markup]:
    ticks = sorted({0.0: "0", band: f"{round(band * 100)}", 1.0: "100 %"}.items())
    return [
        plane.green(band),
        *plane.rungs(ticks),
        *plane.feet(spots, unit),
        plane.caption(CHANCE),
    ]


def _grades(plane: Plane, points: Sequence[TrendPoint]) -> list[Markup]:
    return [
        plane.disc(point.at, float(point.met), "chart-met" if point.met else "chart-open")
        for point in points
        if point.met is not None
    ]


def cohort_strip(
    own: Sequence[tuple[Spot, float]], bands: Sequence[CohortBand], unit: str = "attempt"
) -> Markup:
    """One student's chance over the middle half and the middle four fifths of the cohort.

    Parameters
    ----------
    own
        (spot, chance 0-1) of this student, oldest first.
    bands
        Percentiles of the cohort at each spot, in order; may reach further than the student.
    unit
        What the spots count.
    """
    spots = sorted([spot for spot, _ in own] + [one.at for one in bands])
    plane = Plane(extent(spots), (0, 1), bottom=FLOOR)
    parts = [
        *plane.ribbon([(one.at, one.p10, one.p90) for one in bands], "chart-band"),
        *plane.ribbon([(one.at, one.p25, one.p75) for one in bands], "chart-band"),
        *plane.rungs(PERCENT),
        *plane.feet(spots, unit),
        plane.caption(CHANCE),
        *plane.line([(one.at, one.p50) for one in bands], "chart-median"),
        *plane.line(own, "chart-line"),
        *(plane.disc(spot, value, "chart-met", 2.5) for spot, value in own),
    ]
    if not own:
        parts.append(plane.message(say("no estimate of this student yet")))
    return chart(HEIGHT, findings.cohort(own, bands, unit), parts)
