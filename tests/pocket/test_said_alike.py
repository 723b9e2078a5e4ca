"""The words of the rules: the same texts in scripts as in the program, so one translation."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page

from gradebook import words
from gradebook.records.pocket import Plain
from tests.pocket.browser import judging_page, prepare, told
from tests.pocket.cards_drawn import drawn
from tests.pocket.program import judged, known, packed
from tests.pocket.settings_drawn import settings_drawn
from tests.tree import kept_files, python_files
from tests.words import said_in

OWN = {
    *("1 task", "{n} tasks"),
    *("1 safety-critical error marked.", "{n} safety-critical errors marked."),
}
"""Texts with a number: the program knows plural rules, scripts two texts each."""
CARDS = range(500, 700)
GERMAN = words.Language("de", dates="iso")
SAID = ("check", "missing", "times", "proposal")


def texts_of(folder: str) -> set[str]:
    """The texts that scripts of a folder say."""
    return {text for path in kept_files(folder, "*.js") for text in said_in(path)}


def test_the_rules_say_in_scripts_only_what_the_program_says() -> None:
    ours = {text for path in python_files("gradebook", "syllabus") for text in said_in(path)}
    codes = {"yes", "no"}
    assert texts_of("static/js/rules") - ours - OWN - codes == set()


@pytest.fixture
def german_page(browser: Browser) -> Iterator[Page]:
    """A page whose reader reads German, given its settings in German."""
    with judging_page(browser, language=GERMAN.code) as page:
        settings = settings_drawn()
        with words.speaking(GERMAN):
            said = [words.spoken_all(packed(one)) for one in settings]
        prepare(page, said, [known(one) for one in settings])
        yield page


def in_german(number: int) -> tuple[Plain, str | None]:
    """What the program says of a card in German, and what it would sign."""
    place, card = drawn(number)
    ours = judged(card, settings_drawn()[place])
    with words.speaking(GERMAN):
        return {question: words.spoken_all(ours[question]) for question in SAID}, ours[
            "statement"
        ]


def test_scripts_say_the_german_of_the_program_and_sign_the_same(german_page: Page) -> None:
    theirs = told(german_page, map(drawn, CARDS))
    for number, other in zip(CARDS, theirs, strict=True):
        ours, statement = in_german(number)
        assert {question: other.get(question) for question in SAID} == ours, other.get("words")
        assert other["statement"] == statement, number


def test_german_is_not_english() -> None:
    assert any("Übung" in str(in_german(number)) for number in CARDS[:20])
