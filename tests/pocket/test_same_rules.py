"""Program and browser judge, review and state the same cards alike, to the last byte."""

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.pocket.browser import judging_page, prepare, told
from tests.pocket.cards_drawn import drawn
from tests.pocket.program import judged, known, packed
from tests.pocket.settings_drawn import settings_drawn
from tests.pocket.spoiling import MUTANTS

CARDS = 1200
"""A third more than it takes to notice the slip that is noticed last."""
FIRST, BATCH = 25, 250
"""Cards told at a time: few at first, among which most slips are noticed."""
Judged = list[dict[str, Any]]


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    """A page with the scripts as they are."""
    with judging_page(browser) as opened:
        _settle(opened)
        yield opened


@pytest.fixture(scope="module")
def ours() -> Judged:
    """What the program says of every card."""
    return [judged(card, settings_drawn()[place]) for place, card in map(drawn, range(CARDS))]


def _settle(page: Page) -> None:
    settings = settings_drawn()
    prepare(page, [packed(one) for one in settings], [known(one) for one in settings])


def disagreements(page: Page, ours: Judged, upto: int) -> Iterator[str]:
    """Which card, in which question, and what either says of it."""
    starts = [0, *range(FIRST, upto, BATCH)]
    for numbers in map(range, starts, [*starts[1:], upto]):
        for number, theirs in zip(numbers, told(page, map(drawn, numbers)), strict=True):
            for question, answer in ours[number].items():
                if theirs.get(question) != answer:
                    other = theirs.get("fault") or theirs.get(question)
                    yield f"card {number}, {question}:\n{answer}\n{other}"


def test_program_and_browser_agree_on_every_card(page: Page, ours: Judged) -> None:
    assert next(disagreements(page, ours, CARDS), None) is None


def test_the_cards_drawn_meet_everything_there_is_to_judge(ours: Judged) -> None:
    signed = [one for one in ours if one["statement"]]
    found = {mark["found"] for one in signed for mark in one["gauges"]["proposed"]}
    met = {result["met"] for one in signed for result in one["gauges"]["results"]}
    outcomes = {one["proposal"]["outcome"] for one in ours}
    assert len(signed) > CARDS / 3
    assert found == {"flow", "reading"}
    assert met == {True, False}
    assert len(outcomes) == 6
    assert len({one["words"] for all_ in ours for one in all_["check"]}) > 200
    for part in ("below", "marks", "unconfirmed", "readings", "carried", "problems"):
        assert any(one["review"][part] for one in ours), part


@pytest.mark.parametrize("mutant", MUTANTS)
def test_a_slip_in_a_script_is_noticed(browser: Browser, ours: Judged, mutant: str) -> None:
    file, old, new = MUTANTS[mutant]
    with judging_page(browser, {file: (old, new)}) as spoilt:
        _settle(spoilt)
        assert next(disagreements(spoilt, ours, CARDS), None) is not None
