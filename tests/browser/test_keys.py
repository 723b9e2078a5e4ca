"""The keyboard: keys that find, tell and go on, and never take what is typed for themselves."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.browser.test_explore import WIDE
from tests.browser.test_main_job import begin_card, sign_in, station
from tests.cast import SECRET, close_school, open_school
from tests.serving import served
from tests.small_course import twenty_tasks


@pytest.fixture
def card(browser: Browser, tmp_path: Path) -> Iterator[Page]:
    """Ben's open card of twenty tasks."""
    school = open_school(tmp_path, files=twenty_tasks())
    with served(school.app) as address:
        page = sign_in(browser, address, "ben")
        begin_card(page)
        page.wait_for_load_state()  # scripts of the page have run
        yield page
        page.context.close()
    close_school(school)


def test_a_key_finds_a_student_from_anywhere(card: Page) -> None:
    card.keyboard.press("/")
    field = card.get_by_role("combobox", name="Find a student")
    expect(field).to_be_focused()
    card.keyboard.type("an")
    expect(card.locator("[data-find] option")).to_have_count(1)
    card.keyboard.press("Enter")
    expect(card.get_by_role("heading", name="Ana", exact=True)).to_be_visible()


def test_what_is_typed_into_a_field_is_never_a_key(card: Page) -> None:
    remarks = card.get_by_label("Remarks")
    remarks.click()
    card.keyboard.type("n/a? no")
    expect(remarks).to_have_value("n/a? no")
    expect(card.locator("dialog")).to_have_count(0)
    expect(remarks).to_be_focused()


def test_a_key_tells_the_keys_of_this_page(card: Page) -> None:
    card.set_viewport_size({"width": 360, "height": 480})  # longer than it is high
    card.keyboard.press("?")
    sheet = card.get_by_role("dialog", name="Keyboard")
    expect(sheet).to_contain_text("The next task without a grade")
    expect(sheet.get_by_role("heading", name="Keyboard", exact=True)).to_be_in_viewport()
    expect(sheet.get_by_role("button", name="Close")).not_to_be_in_viewport()
    found = Axe().run(card, options={"runOnly": {"type": "tag", "values": WIDE}})
    assert found.violations_count == 0, found.generate_report()
    card.keyboard.press("Escape")
    expect(card.locator("dialog")).to_have_count(0)
    card.goto(card.url.partition("/lessons")[0])  # waits for its scripts too
    card.keyboard.press("?")
    expect(card.get_by_role("dialog", name="Keyboard")).to_contain_text("Find a student")
    expect(card.get_by_role("dialog", name="Keyboard")).not_to_contain_text("without a grade")


def test_without_a_network_the_keys_are_not_told_but_the_page_stays(card: Page) -> None:
    card.get_by_label("Remarks").fill("Typed before the network went")
    card.route("**/keys", lambda route: route.abort())
    card.get_by_role("heading", level=1).click()
    card.keyboard.press("?")
    told = card.get_by_text("the keys can be told once there is one")
    expect(told).to_be_visible()
    card.keyboard.press("?")
    expect(told).to_have_count(1)
    expect(card.get_by_label("Remarks")).to_have_value("Typed before the network went")


def test_without_a_network_and_without_a_worker_that_is_said_too(
    browser: Browser, tmp_path: Path
) -> None:
    school = open_school(tmp_path)
    with served(school.app) as address:
        for language, words in (
            ("en", "No network: the keys"),
            ("de", "Kein Netz: Die Tasten"),
        ):
            context = browser.new_context(locale=language, service_workers="block")
            page = context.new_page()
            page.goto(f"{address}/sign-in")
            page.locator("[name=email]").fill("cleo@school.example")
            page.locator("[name=secret]").fill(SECRET)
            page.locator("[name=secret]").press("Enter")
            expect(page.locator("[data-keys-link]")).to_be_visible()
            page.wait_for_load_state()  # scripts of the page have run
            context.set_offline(True)
            page.keyboard.press("?")
            page.keyboard.press("?")
            expect(page.get_by_text(words)).to_have_count(1)
            expect(page.get_by_text(words)).to_be_visible()
            context.close()
    close_school(school)


def test_keys_grade_one_task_after_another(card: Page) -> None:
    card.keyboard.press("n")
    first = station(card, "Preflight inspection")
    expect(first.get_by_role("radio").first).to_be_focused()
    card.keyboard.press("4")
    expect(first.get_by_role("radio", name="Perform")).to_be_checked()
    card.keyboard.press("n")
    card.keyboard.press("3")
    card.keyboard.press("ArrowUp")
    expect(first.get_by_role("radio", name="Perform")).to_be_focused()
    expect(card.get_by_role("status").filter(has_text="2 of 20")).to_be_visible()


def test_grades_set_together_are_taken_back_with_one_button(card: Page) -> None:
    station(card, "Task 05").get_by_role("radio", name="Practice").click()
    card.get_by_role("button", name="Set all tasks not graded yet").click()
    expect(card.get_by_role("status").filter(has_text="20 of 20 graded")).to_be_visible()
    card.get_by_role("button", name="Undo: take back the grades set together").click()
    expect(card.get_by_role("radio", name="Perform", checked=True)).to_have_count(0)
    expect(station(card, "Task 05").get_by_role("radio", name="Practice")).to_be_checked()


def test_the_keys_stand_on_a_page_of_their_own(card: Page) -> None:
    card.get_by_role("link", name="Keyboard").click()
    expect(card.get_by_role("heading", name="On the grading card")).to_be_visible()


def test_the_field_fits_the_smallest_phone(card: Page) -> None:
    card.set_viewport_size({"width": 320, "height": 640})
    card.get_by_role("button", name="Menu").click()
    expect(card.get_by_role("combobox", name="Find a student")).to_be_visible()
    assert not card.evaluate("document.documentElement.scrollWidth > innerWidth")
