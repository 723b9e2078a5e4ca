"""The needle on an arc: how likely a student is to meet the standard, and how sure that is.

The arc runs from 0 at the left to 1 at the right over the top. The green band starts at
`GREEN_FROM`; green for the normal range follows the public convention for instrument markings
(14 CFR 27.1549).
"""

from functools import lru_cache
from math import cos, pi, sin

from markupsafe import Markup

from gradebook.analytics.needle.outlook import FEWEST as FEWEST
from gradebook.analytics.needle.prospect import GREEN_FROM as GREEN_FROM
from gradebook.formats import count
from gradebook.pictures.svg import element, number, picture
from syllabus.saying import say

CENTRE = (12.0, 16.0)
RADIUS = 10.0
WIDTH, HEIGHT = 24, 20


def at(share: float, radius: float) -> tuple[float, float]:
    """The point at a share of the arc (clipped to 0-1), this far from its centre."""
    turn = pi * (1 - min(1.0, max(0.0, share)))
    return CENTRE[0] + radius * cos(turn), CENTRE[1] - radius * sin(turn)


def xy(share: float, radius: float) -> str:
    """That point as path text."""
    x, y = at(share, radius)
    return f"{number(x)} {number(y)}"


def _stroke(low: float, high: float, radius: float, name: str) -> Markup:
    bend = f"A{number(radius)} {number(radius)} 0 0 1 {xy(high, radius)}"
    return element("path", class_=name, d=f"M{xy(low, radius)}{bend}")


def _wedge(low: float, high: float) -> Markup:
    reach = RADIUS - 2
    bend = f"A{number(reach)} {number(reach)} 0 0 1 {xy(high, reach)}"
    centre = f"{number(CENTRE[0])} {number(CENTRE[1])}"
    return element("path", class_="arc-wedge", d=f"M{centre}L{xy(low, reach)}{bend}Z")


def _line(share: float, inner: float, outer: float, name: str) -> Markup:
    return element("path", class_=name, d=f"M{xy(share, inner)}L{xy(share, outer)}")


def _percent(share: float) -> str:
    return f"{round(share * 100)} %"


def _words(chance: tuple[float | None, float, float], n: int, what: str) -> str:
    estimate, low, high = chance
    grades = count(n, "counted grade") if n else say("no counted grades")
    if estimate is None or n < FEWEST:
        return say("Too few grades to tell: {grades}", grades=grades)
    where = say("in the green band") if estimate >= GREEN_FROM else say("below the green band")
    return say(
        "{what} {chance}, likely between {low} and {high}, {where}; {grades}",
        what=what,
        chance=_percent(estimate),
        low=_percent(low),
        high=_percent(high),
        where=where,
        grades=grades,
    )


@lru_cache
def _face(ticks: int) -> tuple[Markup, ...]:
    """Scale and green band, with graduations that divide the scale into so many parts."""
    drawn = [_stroke(0, 1, RADIUS, "arc-scale"), _stroke(GREEN_FROM, 1, RADIUS, "arc-green")]
    graduations = (
        _line(tick / ticks, RADIUS - 1, RADIUS, "arc-tick") for tick in range(1, ticks)
    )
    return *drawn, *graduations


def _hands(
    estimate: float | None, low: float, high: float, last: float | None
) -> tuple[list[Markup], list[Markup]]:
    """What lies under the face and what lies over it."""
    over = [] if last is None else [_line(last, RADIUS - 3, RADIUS + 2, "arc-last")]
    if estimate is None:
        return [], over
    return [_wedge(low, high)], [*over, _line(estimate, 0, RADIUS - 1.5, "arc-needle")]


def arc_glyph(
    estimate: float | None, low: float, high: float, last: float | None, n: int
) -> Markup:
    """The small arc for lists.

    Parameters
    ----------
    estimate, low, high
        Chance 0-1 of meeting the standard next time and the ends of its interval; an estimate
        of None, or fewer than `FEWEST` grades, draws a grey arc without needle.
    last
        Where the last counted grade stands, 0-1 (0 lowest level, 1 highest), or None.
    n
        Counted grades behind the estimate.
    """
    return _arc("arc", (estimate, low, high), last, n)


def check_glyph(estimate: float | None, low: float, high: float, n: int) -> Markup:
    """The same arc for the chance 0-1 of passing a stage check, from n counted grades."""
    return _arc("arc", (estimate, low, high), None, n, say("Passes the stage check"))


def arc_dial(
    estimate: float | None, low: float, high: float, last: float | None, n: int
) -> Markup:
    """The same arc large, with graduations, for a task's own page."""
    return _arc("arc arc-dial", (estimate, low, high), last, n)


def _arc(
    name: str,
    chance: tuple[float | None, float, float],
    last: float | None,
    n: int,
    what: str = say("Meets the standard"),
) -> Markup:
    estimate, low, high = chance
    label = _words(chance, n, what)
    if n < FEWEST:
        estimate = None
    under, over = _hands(estimate, low, high, last if n else None)
    hub = element("circle", class_="arc-hub", cx=CENTRE[0], cy=CENTRE[1], r=1.5)
    face = _face(10 if "arc-dial" in name else 0)
    unsure = " arc-unsure" if estimate is None else ""
    return picture(name + unsure, (WIDTH, HEIGHT), label, [*under, *face, *over, hub])
