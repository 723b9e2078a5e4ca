"""Colours that the reader forces, little motion, and whether the looking itself can fail."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.base import AXE_FILE_PATH
from playwright.sync_api import Browser, Page, expect

from tests.browser.rounds import LOOK, NARROW
from tests.browser.test_main_job import sign_in
from tests.cast import TestSchool
from tests.serving import served

STYLE = "(one, [part, name]) => getComputedStyle(one, part)[name]"


@pytest.fixture
def address(school: TestSchool) -> Iterator[str]:
    """A school, served."""
    with served(school.app) as address:
        yield address


def signs(browser: Browser, address: str, scheme: str) -> Page:
    """The page of every sign, in colours that the reader forces."""
    page = sign_in(browser, address, "ana", scheme)
    page.emulate_media(forced_colors="active")
    page.goto(f"{address}/signs")
    return page


def style(page: Page, selector: str, name: str, part: str = "") -> str:
    """How the first such element, or a part of it, is painted."""
    return str(page.locator(selector).first.evaluate(STYLE, [part, name]))


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_mark_can_be_told_in_forced_colours(
    browser: Browser, address: str, scheme: str
) -> None:
    page = signs(browser, address, scheme)
    assert page.evaluate("matchMedia('(forced-colors: active)').matches")
    paper = style(page, "html", "backgroundColor")
    ink = style(page, "body", "color")
    chosen = "#notch-met input:checked + .notch-words"
    assert style(page, chosen, "backgroundColor", "::before") not in (paper, ink)
    plain = "#notch-met input:not(:checked) + .notch-words"
    assert style(page, plain, "backgroundColor", "::before") == ink
    assert style(page, "#notch-none .notch-last", "borderTopColor") == ink
    assert style(page, "#notch-none .notch-flag", "backgroundColor") != paper
    assert style(page, ".station-done", "backgroundColor") == ink
    assert style(page, ".station-mark:not(.station-done)", "backgroundColor") == paper
    assert style(page, ".chip input:checked", "backgroundColor") == ink
    assert style(page, ".chip input:checked + .chip-words", "color") == paper
    assert style(page, ".verdict-met", "backgroundColor", "::before") != paper
    assert style(page, ".stamp-signed", "borderTopStyle") == "solid"
    assert style(page, ".stamp-draft", "borderTopStyle") == "dashed"
    assert style(page, ".severity-safety-critical", "borderTopStyle") == "double"
    assert style(page, ".arc-needle", "stroke") == ink
    assert style(page, ".arc-green", "stroke") not in (paper, ink)
    assert style(page, ".arc-wedge", "fill") not in (paper, "none")
    assert style(page, ".chart-line", "stroke") == ink
    page.keyboard.press("Tab")
    focused = page.locator(":focus-visible")
    assert focused.evaluate(STYLE, ["", "outlineStyle"]) == "solid"
    assert focused.evaluate(STYLE, ["", "outlineColor"]) != paper


def test_nothing_moves_for_whoever_wants_less_motion(browser: Browser, address: str) -> None:
    page = signs(browser, address, "light")
    page.evaluate(LOOK.read_text())
    page.emulate_media(reduced_motion="no-preference", forced_colors="none")
    assert page.evaluate("look.moving()") != []  # the looking can fail
    page.emulate_media(reduced_motion="reduce")
    assert page.evaluate("look.moving()") == []


FAULTS = {
    "outline": ("<html><body><h1>One</h1><h1>Two</h1></body></html>", "2 first headings"),
    "sideways": ("<main><p style='width: 500px'>Wide</p></main>", "wider than the window"),
    "cut": (
        "<main><p style='width: 5em; overflow: hidden; white-space: nowrap'>More than fits</p>",
        "cut off",
    ),
    "targets": ("<main><button style='width: 20px'>Go</button></main>", "pixels: button"),
    "errors": ("<main><input aria-invalid='true'></main>", "in error without words"),
    "focus": (
        "<main><button style='outline: none'>Go</button></main>",
        "focus not seen",
    ),
}


@pytest.mark.parametrize("looking", FAULTS)
def test_the_looking_finds_a_planted_fault(browser: Browser, looking: str) -> None:
    content, words = FAULTS[looking]
    page = browser.new_page(viewport=NARROW)
    page.set_content(content)
    page.evaluate(LOOK.read_text())
    page.keyboard.press("Tab")
    assert any(words in one for one in page.evaluate(f"look.{looking}()"))
    page.close()


def test_the_looking_finds_what_hides_the_focus(browser: Browser) -> None:
    page = browser.new_page(viewport=NARROW)
    page.set_content(
        "<main style='height: 3000px'><a href='#' style='position: absolute; top: 600px'>Go</a>"
        "<p style='position: fixed; bottom: 0; height: 300px; width: 100%'>Bar</p></main>"
    )
    page.evaluate(LOOK.read_text())
    assert any("hidden when focused" in one for one in page.evaluate("look.focus()"))
    page.close()


def test_the_lights_find_a_colour_too_pale(browser: Browser, address: str) -> None:
    page = sign_in(browser, address, "ana")
    page.evaluate(AXE_FILE_PATH.read_text())
    page.evaluate(LOOK.read_text())
    expect(page.locator("main")).to_be_visible()
    page.evaluate("document.documentElement.style.setProperty('--dim', 'var(--rule)')")
    assert any("color-contrast" in one for one in page.evaluate("look.lights()"))
