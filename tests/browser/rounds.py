"""A round of every page that a role can reach, in a real browser, each page looked at once."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from axe_playwright_python.base import AXE_FILE_PATH
from playwright.sync_api import Browser, BrowserContext, Page

from tests.permissions.cells import ROLES, Asked, cells
from tests.permissions.doors import Doors, read_golden

LOOK = Path(__file__).with_name("look.js")
NARROW = {"width": 320, "height": 640}
PHONE = 360
TALLEST = 12_000
"""Pixels. So tall a window holds a page whole, so that nothing lies under what sticks."""
ZOOMED = {"width": 640, "height": 400}
"""A window of 1280 by 800 at 200 %."""
MAIN = re.compile(r"<main.*</main>", re.S)
PASSING = re.compile(r'value="[^"]*"|[0-9a-f]{32,}|data:image[^"]*')


@dataclass(frozen=True, slots=True)
class Stop:
    """One page: whose, which, where."""

    role: str
    name: str
    path: str


def stops(doors: Doors) -> Iterator[Stop]:
    """Every page each role can open, as the table of permissions says; twins once."""
    seen: set[tuple[str, str]] = set()
    golden = read_golden()
    for asked in cells(doors.app):
        if asked.cell.method != "GET" or golden.get(asked.cell, "yes") != "yes":
            continue
        twin = (asked.cell.endpoint, _content(doors, asked))
        if twin[1] and twin not in seen:
            seen.add(twin)
            name = " ".join(filter(None, (asked.cell.endpoint, asked.cell.state)))
            yield Stop(asked.cell.role, name, doors.address(asked)[0])


def _content(doors: Doors, asked: Asked) -> str:
    """The main part of a page without what differs from visit to visit; empty for no page."""
    answer = doors.ask(asked)
    if answer.status_code != 200 or answer.mimetype != "text/html":
        return ""
    found = MAIN.search(answer.text)
    return PASSING.sub("", found[0]) if found else ""


def visitor(browser: Browser, doors: Doors, address: str, role: str) -> BrowserContext:
    """A narrow window of somebody of this role, who wants little motion."""
    context = browser.new_context(viewport=NARROW, reduced_motion="reduce")
    context.add_init_script(path=AXE_FILE_PATH)
    context.add_init_script(path=LOOK)
    pairs = [one.split("=", 1) for one in doors.cookies[ROLES[role]].split("; ") if one]
    context.add_cookies(
        [{"name": name, "value": value, "url": address} for name, value in pairs]
    )
    return context


def looked_at(page: Page) -> list[str]:
    """Everything wrong with the page that is open, in words."""
    page.evaluate("look.unfold()")
    wrong = page.evaluate("[...look.outline(), ...look.sideways(), ...look.moving()]")
    page.keyboard.press("Tab")  # from now on focus is the keyboard's
    wrong += page.evaluate("[...look.focus(), ...look.targets(), ...look.errors()]")
    wrong += _enlarged(page)
    height = page.evaluate("document.documentElement.scrollHeight")
    page.set_viewport_size({"width": PHONE, "height": min(height + 200, TALLEST)})
    wrong += page.evaluate("look.lights()")
    page.set_viewport_size(NARROW)
    return wrong


def _enlarged(page: Page) -> list[str]:
    """At 200 %: the window halved, then the text alone doubled."""
    page.set_viewport_size(ZOOMED)
    wrong = [f"at 200 %: {one}" for one in page.evaluate("[...look.sideways(), ...look.cut()]")]
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    wrong += [
        f"letters at 200 %: {one}"
        for one in page.evaluate("[...look.sideways(), ...look.cut()]")
    ]
    page.evaluate("document.documentElement.style.fontSize = ''")
    return wrong
