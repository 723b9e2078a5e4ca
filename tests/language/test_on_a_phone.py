"""German on a phone 360 pixels wide: scripts speak it too, and nothing runs over the edge."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from gradebook.records.tables.lessons import LessonRecord
from tests.cast import SECRET, TestSchool, close_school, open_school
from tests.serving import served
from tests.story import tell

PHONE = {"width": 360, "height": 740}
PATHS = (
    "/", "/students", "/students/{ana}", "/students/{ana}/records", "/students/{ana}/file",
    "/students/{ana}/readiness/stage-1", "/students/{ana}/tasks/preflight",
    "/students/{ana}/cohort", "/students/{ana}/lessons/new", "/lessons/{draft}",
    "/lessons/{draft}/review", "/lessons/{draft}/flow", "/records/{amended}",
    "/records/{superseded}", "/records/{amended}/amend", "/records/{amended}/void", "/account",
    "/account/reading", "/account/sessions", "/account/phones", "/secret", "/phone",
    "/signs", "/keys", "/find?q=an",
)  # fmt: skip


@pytest.fixture(scope="module")
def told(tmp_path_factory) -> Iterator[tuple[TestSchool, str, dict[str, str]]]:
    school = open_school(Path(tmp_path_factory.mktemp("school")))
    records = tell(school)
    with school.database.read() as session:
        draft = session.query(LessonRecord).filter_by(state="draft").first().id
    places = {**records, "ana": school.enrolment, "draft": draft}
    with served(school.app) as address:
        yield school, address, places
    close_school(school)


def german(browser: Browser, address: str) -> Page:
    page = browser.new_context(viewport=PHONE, locale="de-DE").new_page()
    page.goto(f"{address}/sign-in")
    page.get_by_label("E-Mail-Adresse").fill("ben@school.example")
    page.get_by_label("Kennwort").fill(SECRET)
    page.get_by_role("main").get_by_role("button", name="Anmelden").click()
    expect(page.get_by_role("button", name="Menü")).to_be_visible()
    return page


def test_no_page_of_the_main_job_moves_sideways(browser: Browser, told) -> None:
    _, address, places = told
    page = german(browser, address)
    wide = []
    for path in PATHS:
        page.goto(address + path.format(**places))
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            wide.append(path)
    assert wide == []


def test_scripts_say_german_too(browser: Browser, told) -> None:
    _, address, places = told
    page = german(browser, address)
    page.goto(f"{address}/lessons/{places['draft']}")
    page.get_by_label("Bemerkungen").fill("Ruhige Luft.")
    expect(page.get_by_role("status").filter(has_text="Gespeichert")).to_contain_text(
        "beurteilt"
    )
