"""Every text of the interface in every language: all there, nothing stale, values in place."""

import json
from pathlib import Path

import pytest

from gradebook import words
from gradebook.records.acts import WORDS
from gradebook.records.commands.rekeying import DISOWNED, ROTATED
from gradebook.records.permissions import Action
from gradebook.records.values import Outcome
from syllabus.errors import Severity
from tests.words import gathered, languages, missing, said_in, strange

LANGUAGES = languages()


def texts(language: str) -> set[object]:
    found = words.catalogue(language)
    assert found is not None
    return {message.id for message in found if message.id}


def test_there_is_german():
    assert "de" in LANGUAGES


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_catalogue_holds_the_texts_of_today_and_no_others(language):
    now = {message.id for message in gathered() if message.id}
    known = texts(language)
    assert (now - known, known - now) == (set(), set()), "run python -m tests.words"


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_text_is_without_its_translation(language):
    found = words.catalogue(language)
    assert [message.id for message in missing(found)] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_translation_has_room_for_the_values_of_its_source(language):
    assert strange(words.catalogue(language)) == []


def test_only_languages_that_can_be_chosen_have_catalogues():
    assert set(LANGUAGES) <= set(words.LANGUAGES)


def test_texts_are_gathered_from_python_templates_and_scripts(tmp_path: Path):
    samples = {
        "a.py": 'x = say("One {n}.", n=1)\ny = say_n("{n} fly", "{n} flies", 2)\n'
        'z = count(2, "mouse", "mice")\n',
        "b.html": '<p title="{{ say(\'Two\') }}">{{ count(2, "cat") }}</p>\n',
        "c.js": 'const said = t("Three {n}", { n: 3 });\nsay("no");\n',
    }
    found = []
    for name, text in samples.items():
        path = tmp_path / name
        path.write_text(text)
        found += said_in(path)
    assert set(found) == {
        "One {n}.", ("{n} fly", "{n} flies"), ("{n} mouse", "{n} mice"),
        "Two", ("{n} cat", "{n} cats"), "Three {n}",
    }  # fmt: skip


def test_scripts_get_their_own_texts_alone():
    digest, text = words.for_scripts("de")
    assert len(digest) == 12
    assert '"Signed out' not in text
    assert "Abmelden, hier behalten" in text
    assert words.for_scripts("en") == ("", "")


def test_every_action_of_the_audit_trail_has_its_words():
    assert set(WORDS) == {*Action, ROTATED, DISOWNED}
    assert len(set(WORDS.values())) == len(WORDS)


def test_scripts_know_the_words_for_outcomes_and_severities():
    said = json.loads(words.for_scripts("de")[1])
    assert {*Outcome, *Severity} <= said.keys()
