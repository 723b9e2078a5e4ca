"""The grades of one task over time, on the levels of its scale."""

from collections.abc import Sequence

from markupsafe import Markup

from gradebook.pictures.svg import element, number, picture
from syllabus.saying import joined, say

WIDTH, HEIGHT, EDGE = 160, 40, 6
MOST = 24
"""Only so many results are drawn, the newest; the words still count them all."""

Point = tuple[str, int | None]
"""When it was (as people read it) and the rank, None where the grade was not counted."""


def trend_strip(
    points: Sequence[Point], levels: Sequence[tuple[int, str]], standard: int
) -> Markup:
    """Grades oldest to newest as a stepped line, with the band from the standard upward.

    Parameters
    ----------
    points
        (date in words, rank or None) of each result, oldest first. A filled disc met the
        standard, an open one did not, a short dash was not counted.
    levels
        (rank, words) of each level, lowest first; at least one.
    standard
        Rank of the first level that meets the standard.
    """
    words = dict(levels)
    drawn = list(points[-MOST:])
    places = {rank: _height(at, len(levels)) for at, (rank, _) in enumerate(levels)}
    parts = [_band(places[standard]), *_lines(drawn, places), *_dots(drawn, places, standard)]
    told = joined("; ", (joined(": ", (day, _said(rank, words))) for day, rank in drawn))
    return picture("trend", (WIDTH, HEIGHT), _label(points, words, standard), parts, told)


def _said(rank: int | None, words: dict[int, str]) -> str:
    return say("not counted") if rank is None else words[rank]


def _label(points: Sequence[Point], words: dict[int, str], standard: int) -> str:
    ranks = [rank for _, rank in points if rank is not None]
    if not ranks:
        return say("No counted grades yet")
    met = sum(rank >= standard for rank in ranks)
    if len(ranks) == 1:
        verdict = say("meets the standard") if met else say("below the standard")
        return say("One grade: {level}, {verdict}", level=words[ranks[0]], verdict=verdict)
    course = say("from {first} to {last}", first=words[ranks[0]], last=words[ranks[-1]])
    return say(
        "{n} grades, {course}; {met} met the standard ({standard})",
        n=len(ranks),
        course=course,
        met=met,
        standard=words[standard],
    )


def _height(place: int, n_levels: int) -> float:
    """Vertical place of a level: the lowest at the bottom edge, the highest at the top."""
    return HEIGHT - EDGE - place * (HEIGHT - 2 * EDGE) / max(1, n_levels - 1)


def _across(index: int, n: int) -> float:
    """Horizontal place of a result: a single one stands at the right, where the newest is."""
    return WIDTH - EDGE - (n - 1 - index) * min(24.0, (WIDTH - 2 * EDGE) / max(1, n - 1))


def _band(top: float) -> Markup:
    band = element("rect", class_="trend-band", x=0, y=0, width=WIDTH, height=top + 3)
    line = element("path", class_="trend-standard", d=f"M0 {number(top + 3)}H{WIDTH}")
    return band + line


def _lines(points: list[Point], places: dict[int, float]) -> list[Markup]:
    """One stepped line through the counted grades."""
    steps = [
        (number(_across(at, len(points))), number(places[rank]))
        for at, (_, rank) in enumerate(points)
        if rank is not None
    ]
    if len(steps) < 2:
        return []
    (x, y), *rest = steps
    path = f"M{x} {y}" + "".join(f"H{x}V{y}" for x, y in rest)
    return [element("path", class_="trend-line", d=path)]


def _dots(points: list[Point], places: dict[int, float], standard: int) -> list[Markup]:
    drawn = []
    for at, (_, rank) in enumerate(points):
        x = _across(at, len(points))
        if rank is None:
            drawn.append(element("path", class_="trend-gap", d=f"M{number(x)} {HEIGHT}v-4"))
        else:
            name = "trend-met" if rank >= standard else "trend-below"
            drawn.append(element("circle", class_=name, cx=x, cy=places[rank], r=3))
    return drawn
