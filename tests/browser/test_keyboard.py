"""The main job without a mouse, and what a screen reader is told of the grading card."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.base import AXE_FILE_PATH
from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.rounds import LOOK
from tests.browser.test_main_job import PHONE, SECRET, followed, station
from tests.cast import TestSchool, close_school, open_school
from tests.serving import served
from tests.small_course import twenty_tasks
from tests.walks.test_main_job import sign_first_lesson

MOST_TABS = 400
"""So many steps reach anything on the longest page."""


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    """A school whose next lesson has twenty tasks, served."""
    school = open_school(tmp_path, files=twenty_tasks())
    with served(school.app) as address:
        yield address
    close_school(school)


class Keys:
    """Somebody at a keyboard without a mouse."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def to(self, target: Locator, step: str = "Tab") -> Locator:
        """Press Tab until the focus is there; it must be seen to be."""
        for _ in range(MOST_TABS):
            if target.evaluate("one => one === document.activeElement"):
                assert target.evaluate("one => one.matches(':focus-visible')")
                return target
            self.page.keyboard.press(step)
        raise AssertionError(f"the Tab key never comes to {target}")

    def press(self, *keys: str) -> None:
        """Press keys, one after another."""
        for key in keys:
            self.page.keyboard.press(key)

    def activate(self, target: Locator) -> None:
        """Go to a button or link and press Enter."""
        self.to(target)
        self.press("Enter")

    def write(self, label: str, words: str) -> None:
        """Go to a field and type."""
        self.to(self.page.get_by_label(label))
        self.page.keyboard.type(words)

    def sign_in(self, address: str, name: str) -> None:
        """From the first page on."""
        self.page.goto(f"{address}/sign-in")
        self.write("E-mail address", f"{name}@school.example")
        self.write("Secret", SECRET)
        self.press("Enter")
        expect(self.page.get_by_role("button", name="Menu")).to_be_visible()


def test_the_main_job_needs_no_mouse(browser: Browser, address: str) -> None:
    page = browser.new_context(viewport=PHONE).new_page()
    keys, main = Keys(page), page.get_by_role("main")
    keys.sign_in(address, "ben")
    keys.activate(page.get_by_role("button", name="Grade S-00"))
    followed(page)
    keys.write("Registration", "KM-H1")
    keys.to(station(page, "Preflight inspection").get_by_role("radio", name="Describe"))
    keys.press("4", "ArrowDown", "4", "ArrowDown", "3")  # the hover stays below its target
    hover = station(page, "Hover")
    expect(hover.get_by_role("radio", name="Practice")).to_be_checked()
    keys.to(hover.get_by_role("checkbox", name="Drifts back"))
    keys.press("Space")
    expect(page.get_by_role("status").filter(has_text="3 of 20 graded")).to_be_visible()
    keys.activate(page.get_by_role("button", name="Set all tasks not graded yet"))
    expect(page.get_by_role("status").filter(has_text="20 of 20 graded")).to_be_visible()
    keys.write("Dual received", "1.2")
    keys.to(page.get_by_role("radio", name="Complete", exact=True))
    keys.press("Space")
    keys.activate(page.get_by_role("button", name="Review"))
    expect(page.get_by_role("heading", name="1 task below target")).to_be_visible()
    keys.write("Your secret", SECRET)
    keys.activate(page.get_by_role("button", name="Sign this record"))
    keys.activate(page.get_by_role("link", name="Student acknowledges here"))
    keys.to(page.get_by_role("radio", name="I agree"))
    keys.press("Space")
    keys.write("Your secret", SECRET)
    keys.activate(main.get_by_role("button", name="Acknowledge"))
    expect(page.get_by_role("status").filter(has_text="Acknowledged.")).to_be_visible()


def test_the_menu_opens_and_closes_by_keyboard(browser: Browser, address: str) -> None:
    page = browser.new_context(viewport=PHONE, reduced_motion="reduce").new_page()
    keys = Keys(page)
    keys.sign_in(address, "cleo")
    button, menu = page.get_by_role("button", name="Menu"), page.locator("#menu")
    keys.activate(button)
    expect(menu).to_be_visible()
    page.evaluate(AXE_FILE_PATH.read_text())
    page.evaluate(LOOK.read_text())
    unseen = "look.focus().filter((one) => one.startsWith('focus not seen'))"
    assert page.evaluate(f"[...{unseen}, ...look.sideways(), ...look.targets()]") == []
    assert page.evaluate("look.lights()") == []
    keys.press("Escape")
    expect(menu).to_be_hidden()
    keys.activate(button)
    keys.activate(menu.get_by_role("link", name="School watch"))
    expect(page).to_have_url(f"{address}/school")


def test_the_bar_leads_from_one_open_task_to_the_next(browser: Browser, address: str) -> None:
    page = browser.new_context(viewport=PHONE).new_page()
    keys = Keys(page)
    keys.sign_in(address, "ben")
    keys.activate(page.get_by_role("button", name="Grade S-00"))
    followed(page)
    progress = page.get_by_role("progressbar", name="Tasks graded")
    for at, title in enumerate(("Preflight inspection", "Run-up", "Hover")):
        expect(progress).to_have_js_property("value", at)
        page.get_by_role("link", name="Next ungraded").click()
        here = station(page, title)
        expect(here.get_by_role("radio", name="Describe")).to_be_focused()
        box = here.bounding_box()
        assert box is not None
        assert box["y"] >= 0
        keys.press("4")
        expect(here.get_by_role("radio", name="Perform")).to_be_checked()


def test_a_grade_below_target_unfolds_its_errors_and_a_better_one_folds_them(
    browser: Browser, address: str
) -> None:
    page = browser.new_context(viewport=PHONE).new_page()
    keys = Keys(page)
    keys.sign_in(address, "ben")
    keys.activate(page.get_by_role("button", name="Grade S-00"))
    followed(page)
    here = station(page, "Task 05")
    error = here.get_by_role("checkbox", name="Done badly")
    here.get_by_role("radio", name="Practice").click()
    expect(error).to_be_visible()
    here.get_by_role("radio", name="Perform").click()
    expect(error).to_be_hidden()
    here.get_by_role("radio", name="Practice").click()
    error.click()
    here.get_by_role("radio", name="Perform").click()
    expect(error).to_be_visible()


def description(page: Page, name: str) -> str:
    """What the browser's own tree tells beside the name of a text field."""
    session = page.context.new_cdp_session(page)
    nodes = session.send("Accessibility.getFullAXTree")["nodes"]
    found = [one for one in nodes if one.get("name", {}).get("value") == name]
    return " ".join(str(one.get("description", {}).get("value", "")) for one in found)


def test_a_screen_reader_is_told_name_role_and_state_of_every_control(
    browser: Browser, school: TestSchool
) -> None:
    sign_first_lesson(school)  # leaves an open watch item in the run-up
    with served(school.app) as address:
        page = browser.new_context(viewport=PHONE).new_page()
        keys = Keys(page)
        keys.sign_in(address, "ben")
        keys.activate(page.get_by_role("button", name="Grade S-02"))
        here = station(page, "Run-up")
        here.get_by_role("radio", name="Practice").click()
        expect(here).to_match_aria_snapshot("""
          - listitem:
            - heading "Run-up" [level=3]
            - group "Run-up":
              - radio "Describe"
              - radio /Explain.*, last lesson/
              - radio "Practice" [checked]
              - radio /Perform.*, meets the standard/
            - group "Errors in Run-up":
              - checkbox /Selector left on one side · safety-critical · open watch item/
              - group:
                - text: "More on Run-up: errors, remark"
                - checkbox "Rpm drifts · technique"
                - group "Run-up, not counted":
                  - radio "Not observed"
                  - radio "Left blank"
                - textbox "Remark on Run-up"
        """)
        drop = page.get_by_label("Left magneto drop")
        drop.fill("190")
        expect(page.get_by_text("outside the limit")).to_be_visible()
        assert "at most 175 rpm outside the limit" in description(page, "Left magneto drop")
        bar = page.locator("[data-bar]")
        expect(bar.get_by_role("status")).to_contain_text("1 of 4 graded")
        expect(bar.get_by_role("progressbar")).to_have_accessible_name("Tasks graded")


@pytest.mark.parametrize(
    ("field", "typed"), [("Dual received", "a lot"), ("Day landings", "some")]
)
def test_a_field_in_error_says_so_at_the_field(
    browser: Browser, address: str, field: str, typed: str
) -> None:
    page = browser.new_context(viewport=PHONE, java_script_enabled=False).new_page()
    page.goto(f"{address}/sign-in")
    page.get_by_label("E-mail address").fill("ben@school.example")
    page.get_by_label("Secret").fill(SECRET)
    page.get_by_role("main").get_by_role("button", name="Sign in").click()
    page.get_by_role("button", name="Grade S-00").click()
    page.get_by_label(field).fill(typed)
    page.get_by_role("button", name="Save").click()
    wrong = page.get_by_label(field)
    expect(wrong).to_have_attribute("aria-invalid", "true")
    expect(wrong).to_have_accessible_description(re.compile(r"\w+ \w+"))
    expect(wrong).to_have_value(typed)
    expect(page.get_by_role("alert").first).to_be_visible()
