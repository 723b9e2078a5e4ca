"""English words that can be said again, and the languages that say them.

Expected German: written by hand; dates, times and decimal signs: CLDR, computed with Babel.
"""

from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from gradebook import formats
from gradebook.words import DATES, LANGUAGES, Language, best, speaking, spoken, spoken_all
from syllabus.saying import capital, dated, figure, joined, say, say_n

GERMAN = Language("de")
DAY = date(2026, 11, 3)


def german(text: str) -> str:
    with speaking(GERMAN):
        return str(spoken(text))


def test_words_are_english_until_somebody_reads_them():
    words = say("Enter the flight time.")
    assert words == "Enter the flight time."
    assert german(words) == "Geben Sie die Flugzeit ein."
    assert words == "Enter the flight time."


def test_what_stands_inside_is_said_too():
    words = say("Open since {day}, {clean}", day=dated(DAY), clean=say("not known"))
    assert words == "Open since 2026-11-03, not known"
    assert german(words) == "Offen seit 3. Nov. 2026, nicht bekannt"


def test_a_name_typed_by_somebody_is_never_translated():
    assert german(say("{name} recommended the student.", name="Yes")).startswith("Yes hat")


def test_braces_in_what_was_typed_do_no_harm():
    assert german(say("{name} recommended the student.", name="{name}")).startswith(
        "{name} hat"
    )


@pytest.mark.parametrize(
    ("n", "english", "words"), [(1, "1 task", "1 Übung"), (3, "3 tasks", "3 Übungen")]
)
def test_the_number_decides_the_form(n, english, words):
    assert formats.count(n, "task") == english
    assert german(formats.count(n, "task")) == words
    assert german(say_n("{n} task", "{n} tasks", n)) == words


def test_joined_words_keep_their_sign():
    words = joined(", ", (say("yes"), "KM-H1", say("no")))
    assert (words, german(words)) == ("yes, KM-H1, no", "ja, KM-H1, nein")


def test_a_capital_stays_a_capital():
    assert (capital(say("passed")), german(capital(say("passed")))) == ("Passed", "Bestanden")


def test_what_no_catalogue_knows_stays_as_it_is():
    assert german(say("Kelpmoor")) == "Kelpmoor"


def test_joining_by_hand_leaves_plain_english():
    assert german("(" + say("yes") + ")") == "(yes)"


@pytest.mark.parametrize("value", [1.5, Decimal("1.5")])
def test_a_fraction_gets_the_decimal_sign_of_its_reader(value):
    words = say("{amount} {unit}", amount=value, unit="nm")
    assert (words, german(words)) == ("1.5 nm", "1,5 nm")


def test_figures_get_the_decimal_sign_of_their_reader():
    assert german(figure("52.5")) == "52,5"
    assert german(formats.hours(72)) == "1,2"
    assert german(formats.hours(72, "clock")) == "1:12"
    assert german(formats.hours(70)) == "1:10"


@pytest.mark.parametrize(
    ("cell", "english", "german"),
    [
        ("-0.05", "\N{MINUS SIGN}0.05", "\N{MINUS SIGN}0,05"),
        ("+0.05", "+0.05", "+0,05"),
        ("215", "215", "215"),
        ("2026-11-03", "2026-11-03", "2026-11-03"),
        ("-x", "-x", "-x"),
        ("", "", ""),
    ],
)
def test_numbers_in_a_table_are_written_alike_above_and_below_zero(cell, english, german):
    shown = formats.cell(cell)
    assert spoken(shown) == english
    with speaking(Language("de")):
        assert spoken(shown) == german


@pytest.mark.parametrize(
    ("language", "style", "words"),
    [
        ("en", "words", "3 Nov 2026"), ("en", "figures", "03/11/2026"),
        ("en-US", "words", "Nov 3, 2026"), ("en-US", "figures", "11/3/2026"),
        ("de", "words", "3. Nov. 2026"), ("de", "figures", "3.11.2026"),
        ("en", "iso", "2026-11-03"), ("de", "iso", "2026-11-03"),
    ],
)  # fmt: skip
def test_a_day_is_written_as_its_reader_wants_it(language, style, words):
    with speaking(Language(language, style)):
        assert spoken(formats.day(DAY)) == words


@pytest.mark.parametrize(
    ("language", "words"),
    [
        ("en", "3 Nov 2026, 14:05 CET"),
        ("en-US", "Nov 3, 2026, 2:05\N{NARROW NO-BREAK SPACE}PM CET"),
        ("de", "3. Nov. 2026, 14:05 MEZ"),
    ],
)
def test_a_moment_is_on_the_schools_clock_in_the_readers_words(language, words):
    at = datetime(2026, 11, 3, 13, 5, tzinfo=ZoneInfo("UTC"))
    with speaking(Language(language)):
        assert spoken(formats.moment(at, "Europe/Berlin")) == words


def test_lists_and_mappings_are_said_whole():
    with speaking(GERMAN):
        told = spoken_all({"problems": [{"words": say("yes"), "met": True}]})
    assert told == {"problems": [{"words": "ja", "met": True}]}


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        (["de-AT", "en"], "de"), (["DE"], "de"), (["fr", "de"], "de"), (["en-US"], "en-US"),
        (["en-GB"], "en"), (["fr"], None), ([], None), (["*"], None),
    ],
)  # fmt: skip
def test_a_browser_gets_the_best_of_what_there_is(wanted, found):
    assert best(wanted) == found


def test_every_language_and_style_can_write_a_day():
    for code in LANGUAGES:
        for style in DATES:
            with speaking(Language(code, style)):
                assert "2026" in str(spoken(formats.day(DAY)))


def test_a_language_lasts_no_longer_than_its_block():
    with speaking(GERMAN):
        pass
    assert spoken(say("yes")) == "yes"


@pytest.mark.parametrize(
    ("named", "words"),
    [
        ("Firefox on Linux", "Firefox auf Linux"),
        ("Safari on a Mac", "Safari auf einem Mac"),
        ("A browser on Android", "Ein Browser auf Android"),
        ("Chrome", "Chrome"),
        ("", ""),
    ],
)
def test_a_browser_is_named_in_the_readers_words(named, words):
    assert formats.browser(named) == named
    assert german(formats.browser(named)) == words
