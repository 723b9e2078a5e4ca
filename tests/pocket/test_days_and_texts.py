"""Days at the school and canonical texts: the same by the program and in the browser."""

import json
from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import example, given
from hypothesis import strategies as st
from playwright.sync_api import Page

from gradebook import clock
from gradebook.ledger.canonical import MalformedError, canonical, parse
from tests.pocket.browser import LIGHT, ask

YEAR = 365 * 86400
ZONES = ("UTC", "Europe/Lisbon", "America/Denver", "Pacific/Auckland", "Asia/Kathmandu")


@LIGHT
@given(
    st.lists(st.tuples(st.sampled_from(ZONES), st.integers(0, 40 * 365 * 86400)), max_size=60)
)
@example(
    [("Europe/Lisbon", 1774745999), ("Europe/Lisbon", 1774746000), ("Asia/Kathmandu", 65699)]
)
def test_it_is_the_same_day_at_the_school(page: Page, moments: list[tuple[str, int]]) -> None:
    epoch = datetime(1990, 1, 1, tzinfo=UTC)
    at = [(zone, epoch + timedelta(seconds=seconds)) for zone, seconds in moments]
    asked = [(zone, clock.zulu(moment)) for zone, moment in at]
    ours = [clock.school_day(moment, zone).isoformat() for zone, moment in at]
    assert ask(page, "daysOf", asked) == ours


KNOWN = st.characters(exclude_categories=("Cn",))  # a newer Unicode composes more
TEXT = st.text(
    st.one_of(
        KNOWN,
        st.sampled_from(
            "A\u030a\u00c5\u212b\u1100\u1161\uac00\ufb01\uffee\U0001f681\U00010000\ud800"
        ),
    ),
    max_size=6,
)
JSON = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        TEXT,
        st.integers(-(2**60), 2**60),
        st.sampled_from([0.5, 1e-7]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(TEXT, inner, max_size=4)
    ),
    max_leaves=8,
)


def written_there(page: Page, values: list[Any]) -> list[str]:
    """The canonical texts of the browser, or the kind of fault."""
    found = ask(page, "writeAll", [json.dumps(value) for value in values])
    return [one if isinstance(one, str) else one["fault"] for one in found]


@LIGHT
@given(st.lists(JSON, max_size=30))
@example(
    [{"\u00c5": 1, "\u212b": 2}, {"\uffee": 1, "\U0001f681": 2}, {"__proto__": {"a": [None]}}]
)
def test_any_value_has_the_same_canonical_text(page: Page, values: list[Any]) -> None:
    assert written_there(page, values) == [_canonical(value) for value in values]


def _canonical(value: Any) -> str:
    try:
        return canonical(value).decode()
    except MalformedError:
        return "MalformedError"


def test_what_the_browser_writes_the_program_reads(page: Page) -> None:
    [theirs] = written_there(page, [{"b": "e\u0301", "a": [1, None, True]}])
    assert parse(theirs) == {"a": [1, None, True], "b": "\u00e9"}
