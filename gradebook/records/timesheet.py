"""Times and counts of a lesson as people type them, read into minutes, counts and miles."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from gradebook.records.faults import Problem
from gradebook.records.values import Times
from syllabus.saying import joined, say

DAY_MINUTES = 24 * 60
MOST_LANDINGS = 200
FARTHEST_NM = 2000
DECIMAL_HOURS = re.compile(r"[0-9]{1,2}([.,][0-9]{1,2})?")
CLOCK_HOURS = re.compile(r"([0-9]{1,2}):([0-5][0-9])")
COUNT = re.compile(r"[0-9]{1,3}")
MILES = re.compile(r"[0-9]{1,4}(\.[0-9])?")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the time sheet: the `Times` field, its words, and what kind of number."""

    field: str
    words: str
    kind: str


LINES = (
    Line("dual", say("Dual received"), "hours"),
    Line("solo", say("Solo"), "hours"),
    Line("ground", say("Ground training"), "hours"),
    Line("pic", say("Pilot in command"), "hours"),
    Line("night", say("Night"), "hours"),
    Line("instrument", say("Instrument reference"), "hours"),
    Line("cross_country", say("Cross-country"), "hours"),
    Line("device", say("Training device"), "hours"),
    Line("day_landings", say("Day landings"), "count"),
    Line("night_landings", say("Night landings, full stop"), "count"),
    Line("tower_landings", say("Landings at a towered field"), "count"),
    Line("distance_nm", say("Cross-country distance"), "nm"),
    Line("longest_leg_nm", say("Longest leg"), "nm"),
    Line("landing_points", say("Landing points"), "count"),
    Line("test_preparation", say("Practical-test preparation"), "yes"),
)
PARTS_OF_FLIGHT = ("pic", "night", "instrument", "cross_country")


def read_minutes(text: str) -> int:
    """Minutes of `1.2` (decimal hours) or `1:12`; ValueError says how to type it."""
    typed = text.strip()
    if clock_hours := CLOCK_HOURS.fullmatch(typed):
        minutes = int(clock_hours[1]) * 60 + int(clock_hours[2])
    elif DECIMAL_HOURS.fullmatch(typed):
        minutes = round(Decimal(typed.replace(",", ".")) * 60)
    else:
        raise ValueError(say("Type hours as 1.2 or 1:12."))
    if minutes > DAY_MINUTES:
        raise ValueError(say("A day has 24 hours."))
    return minutes


def read_count(text: str) -> int:
    """A whole number from 0 to 200; ValueError otherwise."""
    typed = text.strip()
    if not COUNT.fullmatch(typed) or int(typed) > MOST_LANDINGS:
        raise ValueError(say("Type a whole number from 0 to {most}.", most=MOST_LANDINGS))
    return int(typed)


def read_miles(text: str) -> float:
    """Nautical miles from 0 to 2000, one decimal; ValueError otherwise."""
    typed = text.strip().replace(",", ".")
    if not MILES.fullmatch(typed) or float(typed) > FARTHEST_NM:
        raise ValueError(say("Type nautical miles, such as 52 or 52.5."))
    return float(typed)


def read_yes(text: str) -> bool:
    """True for anything ticked."""
    return bool(text)


READERS: Mapping[str, Callable[[str], float]] = {
    "hours": read_minutes,
    "count": read_count,
    "nm": read_miles,
    "yes": read_yes,
}


def read_times(typed: Mapping[str, str]) -> tuple[Times, tuple[Problem, ...]]:
    """The times typed and what is wrong with them, at the fields `times-<name>`.

    A line that cannot be read counts as zero, so the rest can still be added up.
    """
    values: dict[str, Any] = {}
    problems: list[Problem] = []
    for line in LINES:
        text = typed.get(line.field, "").strip()
        if not text:
            continue
        try:
            values[line.field] = READERS[line.kind](text)
        except ValueError as error:
            problems.append(
                Problem(f"times-{line.field}", joined(": ", (line.words, error.args[0])))
            )
    times = Times(**values)
    return times, (*problems, *check_times(times))


def check_times(times: Times) -> tuple[Problem, ...]:
    """Times that cannot be: more than a day, or a part longer than the whole flight."""
    problems = []
    if times.flight + times.ground > DAY_MINUTES:
        problems.append(Problem("times-dual", say("Together these are more than 24 hours.")))
    words = {line.field: line.words for line in LINES}
    for part in PARTS_OF_FLIGHT:
        if getattr(times, part) > times.flight:
            problem = say(
                "{part} is longer than the whole flight (dual and solo).", part=words[part]
            )
            problems.append(Problem(f"times-{part}", problem))
    if times.longest_leg_nm > times.distance_nm:
        problems.append(
            Problem(
                "times-longest_leg_nm", say("The longest leg is longer than the whole flight.")
            )
        )
    return tuple(problems)
