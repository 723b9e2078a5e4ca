"""Random sequences of typing, signing, losing the network, a full disk and sudden ends."""

import shutil
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from gradebook.paths import bundled
from tests.offline.outbox import model_page, play

LIVES = 75
"""More than twice as many as it takes to meet every mutant."""
ENOUGH = 150
"""So many sequences have to meet every mutant."""

MUTANTS = {
    "another key at each try": (
        "outbox.js",
        '"Idempotency-Key": letter.key',
        '"Idempotency-Key": crypto.randomUUID()',
    ),
    "no version": ("outbox.js", '"If-Match": `"${letter.base}"`', '"If-Match": \'"1"\''),
    "whoever is signed in sends": (
        "outbox.js",
        "const { id } = access.person;",
        'const id = "ben";',
    ),
    "gone once it was sent": (
        "outbox.js",
        "const [answer, told] = await attempt(read, access);",
        "const [answer, told] = await attempt(read, access); await letters.forget(letter);",
    ),
    "drafts are not kept": ("drafts.js", 'rows.put("drafts", { ...before', "void ({ ...before"),
    "settled before the letter lies there": (
        "letters.js",
        '    rows.put("letters", letter);\n',
        '    if (Math.random() > 0.3) rows.put("letters", letter);\n',
    ),
    "the body is made anew": (
        "outbox.js",
        "body: letter.words.body,",
        'body: letter.words.body.replace("}", `,"again":${Date.now()}}`),',
    ),
}


def test_no_sequence_loses_doubles_or_changes_words(browser: Browser) -> None:
    with model_page(browser) as page:
        assert play(page, 1, LIVES) == []


@pytest.mark.parametrize("name", MUTANTS)
def test_the_sequences_meet(browser: Browser, tmp_path: Path, name: str) -> None:
    script, words, instead = MUTANTS[name]
    static = tmp_path / "static"
    shutil.copytree(bundled("static"), static)
    path = static / "js" / "phone" / script
    assert words in path.read_text()
    path.write_text(path.read_text().replace(words, instead))
    with model_page(browser, static) as page:
        found: list[str] = []
        begun = 1
        while not found and begun <= ENOUGH:
            found, begun = play(page, begun, 10), begun + 10
    assert found != []


def test_pauses_double_with_jitter_up_to_a_quarter_of_an_hour(browser: Browser) -> None:
    pauses = """async () => {
      const { pause } = await import("/static/js/phone/outbox.js");
      return [0, 1, 2, 3, 20].map((tries) => [pause(tries, 0), pause(tries, 1)]);
    }"""
    with model_page(browser) as page:
        found = page.evaluate(pauses)
    seconds = [(least / 1000, most / 1000) for least, most in found]
    assert seconds == [(2, 4), (4, 8), (8, 16), (16, 32), (450, 900)]
