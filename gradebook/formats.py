"""How values are written for people: days, moments, hours, shares.

In English as written here; `gradebook.words` says them again as the reader's language does.
"""

import re
from datetime import date, datetime
from zoneinfo import ZoneInfo

from syllabus.saying import Said, figure, joined, say, say_n

NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")
"""A number and nothing else, as tables of numbers have it."""
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day(value: date | str | None) -> str:
    """`3 Nov 2026`; an ISO text is read first; an em dash for nothing."""
    if not value:
        return "—"
    found = date.fromisoformat(value) if isinstance(value, str) else value
    return Said.by(_day(found), lambda tongue: tongue.day(found))


def _day(found: date) -> str:
    return f"{found.day} {MONTHS[found.month - 1]} {found.year}"


def moment(value: datetime | None, zone: str) -> str:
    """`3 Nov 2026, 14:05 CET`: a moment on the school's clock, with its zone."""
    if value is None:
        return "—"
    local = value.astimezone(ZoneInfo(zone))
    return joined(", ", (day(local.date()), clock(value, zone)))


def clock(value: datetime, zone: str) -> str:
    """`14:05 CET`: the time of day of a moment on the school's clock, with its zone."""
    local = value.astimezone(ZoneInfo(zone))
    return Said.by(f"{local:%H:%M %Z}", lambda tongue: tongue.clock(local))


def hours(minutes: float | None, style: str = "decimal") -> str:
    """Minutes as decimal hours (`1.2`) or as `1:12`, as the school chooses.

    A tenth is six minutes; what is not whole tenths is written `1:10`, never rounded.
    """
    total = int(minutes or 0)
    if style == "clock" or total % 6:
        return f"{total // 60}:{total % 60:02d}"
    return figure(f"{total / 60:.1f}")


def decimal(text: str) -> str:
    """A decimal number for people, below zero with a minus sign where a file has a hyphen."""
    return figure(text.replace("-", "\N{MINUS SIGN}"))


def cell(text: str) -> str:
    """A cell of a table of numbers as a page shows it; files keep it as it is."""
    return decimal(text) if NUMBER.fullmatch(text) else text


def utc(text: str) -> str:
    """A moment as statements write it, for people: `3 Nov 2026, 14:05 UTC`."""
    return joined(", ", (day(text[:10]), f"{text[11:16]} UTC")) if text else "—"


def amount(value: float | str, kind: str, style: str = "decimal") -> str:
    """A line of a time sheet: `1.2 h`, `52.5 nm`, `yes`, or a count."""
    if isinstance(value, str) or kind == "nm":
        return say("{amount} {unit}", amount=figure(str(value)), unit=kind)
    if kind == "hours":
        return say("{hours} h", hours=hours(value, style))
    return say("yes") if kind == "yes" else str(value)


BROWSERS = ("Edg", "OPR", "Firefox", "Chrome", "Safari")
SYSTEMS = ("Android", "iPhone", "iPad", "Windows", "Mac OS X", "CrOS", "Linux")
CALLED = {"Edg": "Edge", "OPR": "Opera", "Mac OS X": "a Mac", "CrOS": "ChromeOS"}


def device(agent: str) -> str:
    """`Firefox on Linux`: what a browser says of itself, in as many words."""
    browser = next((name for name in BROWSERS if f"{name}/" in agent), "")
    system = next((name for name in SYSTEMS if name in agent), "")
    named = CALLED.get(browser, browser) or "A browser"
    return f"{named} on {CALLED.get(system, system)}" if system else named


def browser(named: str) -> str:
    """What `device` called a browser, as words that are said in the reader's language."""
    name, on, system = named.partition(" on ")
    if name == "A browser":
        name = say("A browser")
    if system == "a Mac":
        system = say("a Mac")
    return say("{browser} on {system}", browser=name, system=system) if on else name


def share(value: float | None) -> str:
    """A share 0-1 as a whole percentage."""
    return "—" if value is None else figure(f"{round(value * 100)} %")


def chance(value: float) -> str:
    """A chance 0-1 in words: never a certainty, for a model knows none."""
    if value < 0.01:
        return say("under 1 %")
    return say("over 99 %") if value > 0.99 else share(value)


def count(number: int, noun: str, plural: str = "") -> str:
    """`1 task`, `3 tasks`."""
    return say_n(f"{{n}} {noun}", f"{{n}} {plural or noun + 's'}", number)


def span(seconds: int) -> str:
    """A length of time in its largest unit, of which there are two at least: `3 days`."""
    left = abs(seconds)
    for size, name in ((86400, "day"), (3600, "hour"), (60, "minute")):
        if left >= 2 * size:
            return count(left // size, name)
    return count(left, "second")
