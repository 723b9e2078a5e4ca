"""What a logged flight adds to each measure of a requirement, and why it may add nothing."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from syllabus.saying import figure, joined, say


@dataclass(frozen=True, slots=True)
class LoggedFlight:
    """One lesson as the hour rules see it. Integer minutes, counts, and nautical miles.

    `flight_id` names the record it rests on, `words` is what people call it, `aircraft` the
    aircraft type's code. Night landings and tower landings are to a full stop.
    """

    flight_id: str
    on: date
    words: str = ""
    aircraft: str = ""
    dual: int = 0
    solo: int = 0
    pic: int = 0
    night: int = 0
    instrument: int = 0
    cross_country: int = 0
    ground: int = 0
    device: int = 0
    day_landings: int = 0
    night_landings: int = 0
    tower_landings: int = 0
    distance_nm: float = 0
    longest_leg_nm: float = 0
    landing_points: int = 0
    test_preparation: bool = False

    @property
    def flight(self) -> int:
        """Minutes in the aircraft."""
        return self.dual + self.solo


@dataclass(frozen=True, slots=True)
class Bar:
    """A condition a flight has to fulfil, and the words shown when it does not."""

    holds: Callable[[LoggedFlight], float]
    why: str


@dataclass(frozen=True, slots=True)
class Measure:
    """How much of something a flight adds. `best`: one flight alone has to bring the amount."""

    words: str
    unit: str
    amount: Callable[[LoggedFlight], float]
    bars: tuple[Bar, ...]
    best: bool = False

    def of(self, flight: LoggedFlight) -> Fraction:
        """What the flight adds, exactly: hours for `h` (from minutes), else its own unit."""
        amount, parts = self.amount(flight), 60 if self.unit == "h" else 1
        if isinstance(amount, int):
            return Fraction(amount, parts)
        return Fraction(str(amount)) / parts

    def barred(self, flight: LoggedFlight) -> str | None:
        """Why the flight cannot count; None when it can, be it with nothing to add."""
        return next((bar.why for bar in self.bars if not bar.holds(flight)), None)


def amount_words(amount: Fraction, unit: str) -> str:
    """An amount for people: tenths of an hour when exact, else hours and minutes; `52 nm`."""
    if unit == "h":
        minutes = round(amount * 60)
        if minutes % 6 == 0:
            return joined(" ", (figure(f"{minutes // 60}.{minutes % 60 // 6}"), "h"))
        return f"{minutes // 60} h {minutes % 60} min"
    number = figure(f"{float(amount):g}")
    return number if unit == "count" else joined(" ", (number, unit))


FLOWN = Bar(lambda flight: flight.flight, say("no flight time"))
DUAL = Bar(lambda flight: flight.dual, say("no dual time"))
SOLO = Bar(lambda flight: flight.solo, say("no solo time"))
NIGHT = Bar(lambda flight: flight.night, say("not at night"))
CROSS_COUNTRY = Bar(lambda flight: flight.cross_country, say("not cross-country"))
PREPARATION = Bar(lambda flight: flight.test_preparation, say("not test preparation"))

_LONG = (SOLO, CROSS_COUNTRY)


def _hours(words: str, amount: Callable[[LoggedFlight], float], *bars: Bar) -> Measure:
    return Measure(words, "h", amount, bars)


MEASURES: Mapping[str, Measure] = {
    "total": _hours(say("Total flight time"), lambda one: one.flight, FLOWN),
    "dual": _hours(say("Dual received"), lambda one: one.dual, DUAL),
    "solo": _hours(say("Solo"), lambda one: one.solo, SOLO),
    "pic": _hours(say("Pilot in command"), lambda one: one.pic, FLOWN),
    "night": _hours(say("Night"), lambda one: one.night, NIGHT),
    "instrument": _hours(say("Instrument reference"), lambda one: one.instrument, FLOWN),
    "cross-country": _hours(say("Cross-country"), lambda one: one.cross_country, CROSS_COUNTRY),
    "ground": _hours(say("Ground training"), lambda one: one.ground),
    "device": _hours(say("Training device"), lambda one: one.device),
    "on-type": _hours(say("On the type of the test"), lambda one: one.flight, FLOWN),
    "preparation": _hours(
        say("Practical-test training"), lambda one: one.dual, PREPARATION, DUAL
    ),
    "cross-country-dual": _hours(
        say("Cross-country training"), lambda one: max(0, one.cross_country - one.solo),
        DUAL, CROSS_COUNTRY,
    ),
    "night-dual": _hours(
        say("Night training"), lambda one: max(0, one.night - one.solo), DUAL, NIGHT
    ),
    "solo-cross-country": _hours(
        say("Solo cross-country"), lambda one: max(0, one.cross_country - one.dual),
        SOLO, CROSS_COUNTRY,
    ),
    "night-landings": Measure(
        say("Full-stop night landings"), "count", lambda one: one.night_landings, (DUAL,)
    ),
    "tower-landings": Measure(
        say("Solo landings at a towered field"), "count",
        lambda one: one.tower_landings, (SOLO,),
    ),
    "night-cross-country-nm": Measure(
        say("Longest night cross-country"), "nm", lambda one: one.distance_nm,
        (DUAL, NIGHT, CROSS_COUNTRY), best=True,
    ),
    "long-cross-country-nm": Measure(
        say("Long solo cross-country"), "nm", lambda one: one.distance_nm, _LONG, best=True
    ),
    "long-cross-country-points": Measure(
        say("Landing points on it"), "count", lambda one: one.landing_points, _LONG, best=True
    ),
    "long-cross-country-segment-nm": Measure(
        say("Longest segment of it"), "nm", lambda one: one.longest_leg_nm, _LONG, best=True
    ),
}  # fmt: skip
"""Measures by code. A flight logged partly dual, partly solo adds to `night-dual`,
`cross-country-dual` and `solo-cross-country` only what must have been so."""
