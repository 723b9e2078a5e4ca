"""Shares with their interval, and rows of met and missing requirements."""

from collections.abc import Sequence

from markupsafe import Markup

from gradebook.pictures.svg import element, number, picture
from syllabus.saying import joined, say

WIDTH, HEIGHT, EDGE = 120, 16, 4
SPAN = WIDTH - 2 * EDGE
STEP = 12


def proportion_bar(k: int, n: int, low: float, high: float) -> Markup:
    """A share k of n on a line from 0 to 1: a disc, and a bar over its interval.

    Nothing tried (n = 0) draws the bare line. `low` and `high` are 0-1.
    """
    middle = HEIGHT / 2
    parts = [
        element("path", class_="share-line", d=f"M{EDGE} {number(middle)}H{WIDTH - EDGE}"),
        element("path", class_="share-end", d=f"M{EDGE} 4v8M{WIDTH - EDGE} 4v8"),
    ]
    if n == 0:
        return picture("share", (WIDTH, HEIGHT), say("Nothing counted yet"), parts)
    left, right = EDGE + low * SPAN, EDGE + high * SPAN
    parts += [
        element("rect", class_="share-band", x=left, y=4, width=right - left, height=8),
        element("circle", class_="share-dot", cx=EDGE + k / n * SPAN, cy=middle, r=3.5),
    ]
    ends = say("between {low} % and {high} %", low=round(low * 100), high=round(high * 100))
    label = say(
        "{k} of {n} ({share} %), likely {ends}", k=k, n=n, share=round(k / n * 100), ends=ends
    )
    return picture("share", (WIDTH, HEIGHT), label, parts)


def readiness_dots(requirements: Sequence[tuple[str, bool]]) -> Markup:
    """One mark for each requirement (words, met): filled square met, open diamond missing."""
    if not requirements:
        return picture("dots", (STEP, STEP), say("Nothing required"), [])
    parts = [
        element("path", class_="dot-met", d=f"M{at * STEP + 2} 2h8v8h-8Z")
        if met
        else element("path", class_="dot-missing", d=f"M{at * STEP + 6} 1l5 5-5 5-5-5Z")
        for at, (_, met) in enumerate(requirements)
    ]
    missing = [words for words, met in requirements if not met]
    met = say("{met} of {n} met", met=len(requirements) - len(missing), n=len(requirements))
    named = say("missing: {missing}", missing=joined(", ", missing))
    label = joined("; ", (met, named)) if missing else met
    return picture("dots", (len(requirements) * STEP, STEP), label, parts)
