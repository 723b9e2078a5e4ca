"""The page of long work in a browser: its count goes on, and everybody can use it."""

from collections.abc import Iterator
from urllib.parse import urljoin

import pytest
from axe_playwright_python.base import AXE_FILE_PATH
from playwright.sync_api import Browser, Page, expect

from gradebook.records import headway
from gradebook.records.commands import jobs
from gradebook.records.jobs import Kind
from gradebook.records.store import jobs as store
from tests.browser.rounds import LOOK, NARROW, looked_at
from tests.browser.test_main_job import sign_in
from tests.cast import TestSchool
from tests.serving import served

OUTCOMES = {
    "whole": {"code": 0, "number": 0},
    "altered": {"code": 1, "number": 3},
}
FAULTS = {
    "words": "Nothing was imported: 2 faults.",
    "faults": [
        {"line": 3, "column": "grade", "words": "Not a grade of this course."},
        {"line": 9, "column": "", "words": "No such student."},
        {"line": 0, "column": "reason", "words": "Keep the reason shorter."},
    ],
}
NAME = "0123456789abcdef" * 2


@pytest.fixture
def page(browser: Browser, school: TestSchool) -> Iterator[Page]:
    """Cleo's browser, at a width at which nothing may stick out."""
    with served(school.app) as address:
        opened = sign_in(browser, address, "cleo")
        opened.set_viewport_size(NARROW)
        opened.emulate_media(reduced_motion="reduce")
        opened.context.add_init_script(path=AXE_FILE_PATH)
        opened.context.add_init_script(path=LOOK)
        yield opened
        opened.context.close()


def asked(school: TestSchool, kind: Kind = Kind.PROVE) -> None:
    with school.database.write() as session:
        jobs.ask(school.act(session, "cleo"), NAME, kind, {"subject": ""})


def open_job(page: Page) -> None:
    page.goto(urljoin(page.url, f"/jobs/{NAME}"))


def test_a_count_goes_on_and_the_end_shows_itself(page: Page, school: TestSchool) -> None:
    asked(school)
    folder = headway.folder_in(school.settings.data)
    with headway.held(folder, NAME):
        headway.teller(folder, NAME)("entries", 40, 160)
        open_job(page)
        bar = page.get_by_role("progressbar", name="40 of 160 entries read")
        expect(bar).to_have_attribute("value", "40")
        assert looked_at(page) == []
        headway.teller(folder, NAME)("entries", 120, 160)
        expect(page.get_by_role("progressbar", name="120 of 160 entries read")).to_be_visible()
    expect(page.get_by_role("heading", name="interrupted")).to_be_visible()
    expect(page.get_by_role("button", name="Start again")).to_be_visible()
    page.wait_for_load_state()
    assert looked_at(page) == []


def test_a_lost_network_is_told_and_the_count_comes_back(
    page: Page, school: TestSchool
) -> None:
    asked(school)
    folder = headway.folder_in(school.settings.data)
    with headway.held(folder, NAME):
        headway.teller(folder, NAME)("entries", 40, 160)
        open_job(page)
        page.context.set_offline(True)
        expect(page.get_by_role("alert")).to_contain_text("No connection")
        page.context.set_offline(False)
        expect(page.get_by_role("alert")).to_be_hidden()


@pytest.mark.parametrize("end", OUTCOMES)
def test_everybody_can_read_what_came_of_a_proof(
    page: Page, school: TestSchool, end: str
) -> None:
    asked(school)
    with school.database.write() as session:
        act = school.act(session, "cleo")
        jobs.finish(act, store.job(session, act.actor, NAME), OUTCOMES[end])
    open_job(page)
    expect(page.get_by_role("link", name="See the proof")).to_be_visible()
    assert looked_at(page) == []


def test_everybody_can_read_why_an_import_failed(page: Page, school: TestSchool) -> None:
    asked(school, Kind.IMPORT)
    with school.database.write() as session:
        act = school.act(session, "cleo")
        jobs.fail(act, store.job(session, act.actor, NAME), FAULTS)
    open_job(page)
    expect(page.get_by_role("link", name="Choose the file again")).to_be_visible()
    assert looked_at(page) == []
    told = page.locator("table.folds").aria_snapshot()
    assert "Line or row 3" in told
