"""What a real browser makes of cards and texts: one page that holds the scripts."""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, settings
from playwright.sync_api import Browser, Page, Route

from gradebook import words
from gradebook.records.card import Card
from gradebook.records.pocket import Plain
from tests.pocket.program import STATED
from tests.run import ROOT

SITE = "https://records.example"  # answered here: a random number wants a secure address
SCRIPTS = ROOT / "static" / "js"
ASKING = Path(__file__).parent / "asking.js"
JSON = "application/json; charset=utf-8"
ASK = "async ([name, asked]) => (await import('/asking.js'))[name](asked)"
Changes = Mapping[str, tuple[str, str]]
Asked = tuple[int, Card]
LIGHT = settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
"""For what a page is asked draw by draw."""


@contextmanager
def judging_page(
    browser: Browser, changes: Changes | None = None, language: str = "en"
) -> Iterator[Page]:
    """An empty page that may load the scripts; `changes` spoil a script (name: old, new)."""
    for name, (old, _) in (changes or {}).items():
        assert old in (SCRIPTS / name).read_text(), f"{name} does not hold {old}"
    context = browser.new_context()
    context.route("**/*", lambda route: _answer(route, changes or {}, language))
    page = context.new_page()
    page.goto(SITE)
    yield page
    context.close()


def prepare(page: Page, settings: Sequence[Plain], known: Sequence[Plain]) -> None:
    """Give the page its settings and what each statement says before grading."""
    page.evaluate(ASK, ["prepare", json.dumps([settings, known, STATED])])


def ask(page: Page, name: str, asked: object) -> Any:
    """What a function of `asking.js` answers."""
    return json.loads(page.evaluate(ASK, [name, json.dumps(asked)]))


def told(page: Page, cards: Iterable[Asked]) -> list[Any]:
    """What the browser says of each card, at the place of its setting."""
    found: list[Any] = ask(page, "judgeAll", [(place, card.as_json()) for place, card in cards])
    return found


def _answer(route: Route, changes: Changes, language: str) -> None:
    name = route.request.url.removeprefix(f"{SITE}/")
    if name == "words.json":
        route.fulfill(body=words.for_scripts(language)[1] or "{}", content_type=JSON)
        return
    if not name.endswith(".js"):
        page = f'<!doctype html><html lang="{language}" data-words="/words.json">'
        route.fulfill(body=page, content_type="text/html; charset=utf-8")
        return
    text = (ASKING if name == ASKING.name else SCRIPTS / name).read_text()
    old, new = changes.get(name, ("", ""))
    body = text.replace(old, new, 1) if old else text
    route.fulfill(body=body, content_type="text/javascript; charset=utf-8")
