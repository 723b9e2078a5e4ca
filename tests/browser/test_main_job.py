"""The whole job in a real browser the size of a phone, counting taps."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.cast import SECRET, TestSchool, close_school, open_school
from tests.serving import served
from tests.small_course import twenty_tasks

PHONE = {"width": 360, "height": 740}


class Thumb:
    """Somebody's thumb: every tap and every field gone to is counted."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0

    def tap(self, target: Locator) -> None:
        """One tap."""
        target.click()
        self.taps += 1

    def write(self, target: Locator, words: str) -> None:
        """One tap into a field, then the keyboard."""
        self.tap(target)
        target.fill(words)


@pytest.fixture
def long_school(tmp_path: Path) -> Iterator[tuple[TestSchool, str]]:
    """A school whose next lesson has twenty tasks, served; and its address."""
    school = open_school(tmp_path, files=twenty_tasks())
    with served(school.app) as address:
        yield school, address
    close_school(school)


def sign_in(browser: Browser, address: str, name: str, scheme: str = "light") -> Page:
    """A phone, signed in."""
    page = browser.new_context(viewport=PHONE, color_scheme=scheme).new_page()
    page.goto(f"{address}/sign-in")
    page.get_by_label("E-mail address").fill(f"{name}@school.example")
    page.get_by_label("Secret").fill(SECRET)
    page.get_by_role("main").get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("button", name="Menu")).to_be_visible()
    return page


def begin_card(page: Page) -> None:
    """Open the next card; its script follows from now on."""
    page.get_by_role("button", name="Grade S-00").click()
    followed(page)


def followed(page: Page) -> None:
    """Wait until the card's script follows every change, and says so in the bar at once."""
    expect(page.locator("form[data-card][data-followed]")).to_be_visible()


def station(page: Page, title: str) -> Locator:
    """One task on the card."""
    heading = page.get_by_role("heading", name=title, exact=True)
    return page.get_by_role("listitem").filter(has=heading)


def grade_twenty(thumb: Thumb) -> None:
    """From the list of students to the review: three exceptions, the rest at target."""
    page = thumb.page
    thumb.tap(page.get_by_role("button", name="Grade S-00"))
    followed(page)
    for number, title in (("03", "Task 03"), ("07", "Task 07"), ("12", "Task 12")):
        one = station(page, title)
        thumb.tap(one.get_by_role("radio", name="Practice"))
        thumb.tap(one.get_by_role("checkbox", name="Done badly"))
        expect(one.locator(f"input[value='TK-{number}']")).to_be_checked()
    thumb.tap(page.get_by_role("button", name="Set all tasks not graded yet"))
    expect(page.get_by_role("status").filter(has_text="20 of 20 graded")).to_be_visible()
    thumb.write(page.get_by_label("Registration"), "KM-H1")
    thumb.write(page.get_by_label("Dual received"), "1.2")
    thumb.tap(page.get_by_role("radio", name="Complete", exact=True))
    thumb.tap(page.get_by_role("button", name="Review"))


def test_twenty_tasks_with_three_exceptions_take_at_most_thirty_taps(
    browser: Browser, long_school: tuple[TestSchool, str]
) -> None:
    _, address = long_school
    thumb = Thumb(sign_in(browser, address, "ben"))
    page = thumb.page
    grade_twenty(thumb)
    expect(page.get_by_role("heading", name="3 tasks below target")).to_be_visible()
    thumb.write(page.get_by_label("Your secret"), SECRET)
    thumb.tap(page.get_by_role("button", name="Sign this record"))
    thumb.tap(page.get_by_role("link", name="Student acknowledges here"))
    thumb.tap(page.get_by_role("radio", name="I agree"))
    thumb.write(page.get_by_label("Your secret"), SECRET)
    thumb.tap(page.get_by_role("button", name="Acknowledge"))
    expect(page.get_by_text("Acknowledged.")).to_be_visible()
    assert thumb.taps <= 25, thumb.taps

    ana = sign_in(browser, address, "ana")
    expect(ana.get_by_role("heading", name="3 tasks to work on")).to_be_visible()
    expect(ana.get_by_role("link", name="Task 07").first).to_be_visible()


def test_every_tap_is_saved_without_a_button(
    browser: Browser, long_school: tuple[TestSchool, str]
) -> None:
    _, address = long_school
    page = sign_in(browser, address, "ben")
    begin_card(page)
    station(page, "Task 05").get_by_role("radio", name="Perform").click()
    expect(page.get_by_role("status").filter(has_text="Saved")).to_contain_text("1 of 20")
    page.reload()
    expect(station(page, "Task 05").get_by_role("radio", name="Perform")).to_be_checked()


def test_what_could_not_be_sent_stays_on_the_phone(
    browser: Browser, long_school: tuple[TestSchool, str]
) -> None:
    _, address = long_school
    page = sign_in(browser, address, "ben")
    begin_card(page)
    station(page, "Task 01").get_by_role("radio", name="Perform").click()
    expect(page.get_by_role("status").filter(has_text="Saved")).to_contain_text("1 of 20")
    page.context.set_offline(True)
    station(page, "Task 05").get_by_role("radio", name="Perform").click()
    expect(page.get_by_role("status").filter(has_text="On this phone only")).to_be_visible()
    page.context.set_offline(False)
    expect(page.get_by_role("status").filter(has_text="Saved")).to_contain_text("2 of 20")


def test_going_back_to_the_card_shows_it_as_it_was_saved(
    browser: Browser, long_school: tuple[TestSchool, str]
) -> None:
    _, address = long_school
    page = sign_in(browser, address, "ben")
    begin_card(page)
    station(page, "Task 05").get_by_role("radio", name="Practice").click()
    station(page, "Task 05").get_by_role("checkbox", name="Done badly").click()
    page.get_by_role("button", name="Review").click()
    expect(page.get_by_role("heading", name="1 task below target")).to_be_visible()
    page.go_back()
    station(page, "Task 06").get_by_role("radio", name="Perform").click()
    expect(page.get_by_role("status").filter(has_text="Saved")).to_contain_text("2 of 20")
    expect(station(page, "Task 05").get_by_role("checkbox", name="Done badly")).to_be_checked()


def test_two_tabs_are_told_apart(browser: Browser, long_school: tuple[TestSchool, str]) -> None:
    _, address = long_school
    one = sign_in(browser, address, "ben")
    begin_card(one)
    two = one.context.new_page()
    two.goto(one.url)
    station(one, "Task 05").get_by_role("radio", name="Perform").click()
    expect(one.get_by_role("status").filter(has_text="Saved")).to_contain_text("1 of 20")
    two.get_by_label("Remarks").fill("typed in the other tab")
    expect(two.get_by_role("status").filter(has_text="another tab")).to_be_visible()
    two.get_by_role("button", name="Save", exact=True).click()
    expect(two.get_by_text("Nothing is overwritten")).to_be_visible()
    expect(two.get_by_label("Remarks")).to_have_value("typed in the other tab")
