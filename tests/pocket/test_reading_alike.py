"""One text typed into one field: what the program and the browser read in it."""

from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from playwright.sync_api import Page

from gradebook import formats
from gradebook.records.rules import read_day
from gradebook.records.timesheet import read_times
from syllabus.limits import parse_reading
from syllabus.standards import plain_number
from tests.pocket import typed
from tests.pocket.browser import LIGHT, ask
from tests.pocket.typed import ALL, LISTS

UNITS = ("degc", "inhg", "rpm", "count", "yes-no")
FIELDS = ("dual", "day_landings", "distance_nm", "test_preparation")
LISTED = sorted({text for texts in LISTS.values() for text in texts})


def read_there(page: Page, texts: list[str]) -> list[Any]:
    """What the browser reads in texts."""
    found: list[Any] = ask(page, "readAll", {"units": UNITS, "fields": FIELDS, "texts": texts})
    return found


def read(text: str) -> dict[str, Any]:
    """What the program reads in a text."""
    day = read_day(text)
    return {
        "day": day.isoformat() if day else None,
        "stripped": text.strip(),
        "words": text.split(),
        "length": len(text),
        "times": [_times(field, text) for field in FIELDS],
        "readings": [_reading(text, unit) for unit in UNITS],
    }


def _times(field: str, text: str) -> dict[str, Any]:
    times, problems = read_times({field: text})
    plain = {name: getattr(times, name) for name in times.__slots__}
    wrong = [{"field": one.field, "words": one.words} for one in problems]
    return {"times": plain, "problems": wrong}


def _reading(text: str, unit: str) -> str:
    try:
        value = parse_reading(text, unit)
    except ValueError as error:
        return str(error)
    return value if isinstance(value, str) else plain_number(value)


def first_difference(page: Page, texts: list[str]) -> tuple[str, Any, Any] | None:
    """The first text that is read in two ways, and both."""
    theirs = read_there(page, texts)
    pairs = ((text, read(text), other) for text, other in zip(texts, theirs, strict=True))
    return next((pair for pair in pairs if pair[1] != pair[2]), None)


@LIGHT
@given(st.lists(st.one_of(st.text(ALL, max_size=8), st.text(max_size=5)), max_size=40))
@example(LISTED)
@example(
    [chr(code) + "40" + chr(code) for code in range(0x3100) if not 0xD800 <= code <= 0xDFFF]
)
def test_any_text_is_read_alike(page: Page, texts: list[str]) -> None:
    assert first_difference(page, texts) is None


@pytest.mark.parametrize("space", [*typed.SPACES, *typed.NOT_SPACES])
def test_spaces_of_every_kind_count_alike(page: Page, space: str) -> None:
    texts = [
        way
        for text in LISTED
        for way in (f"{space}{text}", f"{text}{space}", f"{text[:1]}{space}{text[1:]}")
    ]
    assert first_difference(page, texts) is None


NAMED = {
    "1:12": ("dual", 72),
    "1,2": ("dual", 72),
    "\u20091.2\u2009": ("dual", 72),
    "\u0661.\u0662": ("dual", None),
    "\uff11\uff1a12": ("dual", None),
    "1e1": ("dual", None),
    "1\u066b2": ("dual", None),
    "\ufeff1.2": ("dual", None),
    "\x1c1.2\x1f": ("dual", 72),
    "0.25": ("dual", 15),
    "\u00b2": ("day_landings", None),
    "\u0663": ("day_landings", None),
    "1_0": ("day_landings", None),
    " 7\u3000": ("day_landings", 7),
    "1,234.5": ("distance_nm", None),
    "52,5": ("distance_nm", 52.5),
    "\xa052.5\u202f": ("distance_nm", 52.5),
}


@pytest.mark.parametrize("text", NAMED)
def test_a_time_or_count_is_what_it_says_in_both(page: Page, text: str) -> None:
    field, value = NAMED[text]
    [theirs] = read_there(page, [text])
    told = theirs["times"][FIELDS.index(field)]
    assert told == _times(field, text)
    assert told["times"][field] == (value or 0)
    assert bool(told["problems"]) is (value is None)


NUMBERS = {
    "1,5": "1.5",
    "1\u2009000": "Enter a number in °C: 000 was typed behind it.",
    "1,234": "Write 1234 or 1.234: 1,234 could be either.",
    "1e3": "Enter a number in °C: e3 was typed behind it.",
    "\u22123": "-3",
    "-0": "0",
    "40 \u00b0C": "40",
    "40\u212a": "Enter a number in °C: \u212a was typed behind it.",
    "\u0664\u0660": "Enter a number in °C, such as 40.",
    "\ufeff40": "Enter a number in °C, such as 40.",
    "123456789012": "123456789012",
    "1234567890123": "This number is too long.",
    "0.10": "0.1",
}


@pytest.mark.parametrize("text", NUMBERS)
def test_a_number_is_what_it_says_in_both(page: Page, text: str) -> None:
    [theirs] = read_there(page, [text])
    assert theirs["readings"][0] == _reading(text, "degc") == NUMBERS[text]


def test_a_character_beyond_the_first_plane_counts_once(page: Page) -> None:
    [theirs] = read_there(page, ["\U0001f681\u0301"])
    assert theirs["length"] == 2


def test_hours_are_written_alike_and_six_minutes_are_a_tenth(page: Page) -> None:
    ours = [
        [formats.hours(one, style) for style in ("decimal", "clock")] for one in range(1441)
    ]
    assert ask(page, "hoursOf", len(ours)) == ours
    assert [one[0] for one in ours[:16:3]] == ["0.0", "0:03", "0.1", "0:09", "0.2", "0:15"]
