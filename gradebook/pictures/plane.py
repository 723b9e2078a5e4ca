"""The paper a chart is drawn on: where values lie, ruled lines, words at the edge."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from gradebook import formats
from gradebook.pictures.series import Spot, place
from gradebook.pictures.svg import element, number, picture
from syllabus.saying import figure, joined, say

WIDTH = 320
LINE = 16
"""Height of one row of words."""

PERCENT = ((0.0, "0"), (0.5, "50"), (1.0, "100 %"))
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Plane:
    """A rectangle of paper with two scales.

    `across` and `up` are the values at the edges (left and right, bottom and top); `top` and
    `bottom` are where the rectangle begins and ends on the paper. Values outside are clipped.
    """

    across: Point
    up: Point
    bottom: float = 118
    top: float = 22
    left: float = 44
    right: float = 312
    inset: float = 6

    def x(self, spot: Spot) -> float:
        """How far right; a scale without length puts everything in the middle."""
        first, last = self.across
        share = (place(spot) - first) / (last - first) if last > first else 0.5
        span = self.right - self.left - 2 * self.inset
        return self.left + self.inset + _clipped(share) * span

    def y(self, value: float) -> float:
        """How far down."""
        low, high = self.up
        share = (value - low) / (high - low) if high > low else 0.5
        return self.bottom - _clipped(share) * (self.bottom - self.top)

    def at(self, spot: Spot, value: float) -> str:
        """The point as path text."""
        return f"{number(self.x(spot))} {number(self.y(value))}"

    def rungs(self, ticks: Iterable[tuple[float, str]]) -> list[Markup]:
        """Horizontal lines with their values at the left."""
        drawn = []
        for value, said in ticks:
            y = self.y(value)
            drawn.append(element("path", class_="chart-rule", d=self._level(value)))
            drawn.append(words(said, (self.left - 5, y + 4), "end"))
        return drawn

    def target(self, value: float, said: str = "") -> list[Markup]:
        """A dashed line across, and words over its left end."""
        line = element("path", class_="chart-target", d=self._level(value))
        corner = (self.left + 3, self.y(value) - 4)
        return [line, words(said, corner, "start", "chart-said")] if said else [line]

    def _level(self, value: float) -> str:
        return f"M{number(self.left)} {number(self.y(value))}H{number(self.right)}"

    def upright(self, spot: Spot, name: str) -> Markup:
        """A vertical line over the whole height."""
        top, bottom = number(self.top), number(self.bottom)
        return element("path", class_=name, d=f"M{number(self.x(spot))} {top}V{bottom}")

    def green(self, low: float) -> Markup:
        """The green band from this value upward."""
        y, width = self.y(low), self.right - self.left
        height = y - self.top
        return element(
            "rect", class_="chart-green", x=self.left, y=self.top, width=width, height=height
        )

    def feet(self, spots: Sequence[Spot], unit: str) -> list[Markup]:
        """First and last spot under the rectangle, and the unit between (days need none)."""
        if not spots:
            return []
        y, first, last = self.bottom + LINE, spots[0], spots[-1]
        unit = "" if isinstance(first, date) else unit
        if place(first) == place(last):
            alone = joined(" ", (say(unit), said_at(first))) if unit else said_at(first)
            return [words(alone, (self.x(first), y), "middle")]
        ends = [
            words(said_at(first), (self.left, y), "start"),
            words(said_at(last), (self.right, y), "end"),
        ]
        return [*ends, words(say(unit), ((self.left + self.right) / 2, y), "middle")]

    def caption(self, said: str) -> Markup:
        """What the vertical scale measures, over its top."""
        return words(said, (2, 13), "start")

    def message(self, said: str) -> Markup:
        """Words in the middle, where nothing can be drawn."""
        middle = ((self.left + self.right) / 2, (self.top + self.bottom) / 2 + 4)
        return words(said, middle, "middle", "chart-said")

    def line(self, points: Sequence[tuple[Spot, float]], name: str) -> list[Markup]:
        """A line through points; nothing for fewer than two."""
        if len(points) < 2:
            return []
        path = "L".join(self.at(*point) for point in points)
        return [element("path", class_=name, d=f"M{path}")]

    def steps(self, points: Sequence[tuple[Spot, float]], name: str) -> list[Markup]:
        """A line that keeps each value until the next point."""
        if len(points) < 2:
            return []
        (spot, value), *rest = points
        path = "".join(f"H{number(self.x(x))}V{number(self.y(y))}" for x, y in rest)
        return [element("path", class_=name, d=f"M{self.at(spot, value)}{path}")]

    def ribbon(self, ends: Sequence[tuple[Spot, float, float]], name: str) -> list[Markup]:
        """The area between lower and upper ends; a single one is a vertical bar."""
        if len(ends) == 1:
            spot, low, high = ends[0]
            x, y = self.x(spot) - 4, self.y(high)
            height = self.y(low) - y
            return [element("rect", class_=name, x=x, y=y, width=8, height=height)]
        there = [self.at(spot, high) for spot, _, high in ends]
        back = [self.at(spot, low) for spot, low, _ in reversed(ends)]
        if not there:
            return []
        return [element("path", class_=name, d=f"M{'L'.join(there + back)}Z")]

    def disc(self, spot: Spot, value: float, name: str, r: float = 3.5) -> Markup:
        """A round mark."""
        return element("circle", class_=name, cx=self.x(spot), cy=self.y(value), r=r)


def _clipped(share: float) -> float:
    return min(1.0, max(0.0, share))


def words(said: str, corner: Point, anchor: str, name: str = "chart-words") -> Markup:
    """Words on the paper that start, end or have their middle at a corner."""
    return element("text", said, class_=name, x=corner[0], y=corner[1], text_anchor=anchor)


def said_at(spot: Spot) -> str:
    """A spot as people read it."""
    return formats.day(spot) if isinstance(spot, date) else figure(f"{spot:g}")


def extent(spots: Sequence[Spot]) -> Point:
    """The least and the greatest place of spots; a scale from 0 to 1 for none."""
    places = [place(spot) for spot in spots]
    return (min(places), max(places)) if places else (0.0, 1.0)


def chart(height: float, label: str, parts: Iterable[Markup], name: str = "chart") -> Markup:
    """The whole chart."""
    return picture(name, (WIDTH, height), label, parts)
