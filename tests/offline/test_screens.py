"""The screens of a phone without a network, at 360 px and in both lights."""

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.offline.field import WORDS, opened_field

LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


def assert_usable(page: Page) -> None:
    """Nothing that axe finds, nothing beside the screen."""
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": LEVELS}})
    assert found.violations_count == 0, found.generate_report()
    assert not page.evaluate("document.documentElement.scrollWidth > innerWidth"), page.url


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_screens_of_a_phone_are_accessible(
    browser: Browser, tmp_path: Path, scheme: str
) -> None:
    with opened_field(tmp_path, browser) as field:
        phone = field.phone(color_scheme=scheme)
        page = phone.page
        phone.go("/account/phones")
        expect(page.get_by_label("What do you call it?")).to_be_visible()
        assert_usable(page)
        phone.set_up()
        assert_usable(page)
        phone.lose_network()
        phone.open_from_pocket()
        assert_usable(page)
        phone.fill_card()
        expect(phone.status).to_contain_text("On this phone only")
        page.get_by_role("button", name="Review").click()
        expect(page.get_by_role("button", name="Sign this record")).to_be_visible()
        assert_usable(page)
        phone.go("/phone")
        expect(page.get_by_role("heading", name="No network")).to_be_visible()
        expect(page.get_by_role("heading", name="1 not sent")).to_be_visible()
        assert_usable(page)
        phone.run("await vault.lock(await db.whose())")
        page.reload()
        expect(page.get_by_role("heading", name="This phone is locked")).to_be_visible()
        assert_usable(page)


def test_a_card_is_graded_by_keyboard_without_a_network(
    browser: Browser, tmp_path: Path
) -> None:
    with opened_field(tmp_path, browser) as field:
        phone = field.phone()
        phone.set_up()
        phone.lose_network()
        phone.open_from_pocket()
        phone.page.get_by_role("radio").first.focus()
        phone.page.keyboard.press("3")
        expect(phone.status).to_contain_text("1 of 3 graded")
        expect(phone.page.get_by_role("radio", name="Practice").first).to_be_checked()


def test_a_record_opens_without_a_network_where_the_phone_has_it_and_else_that_is_said(
    browser: Browser, tmp_path: Path
) -> None:
    with opened_field(tmp_path, browser) as field:
        phone = field.phone()
        phone.set_up()
        phone.lose_network()
        phone.open_from_pocket()
        phone.fill_card()
        expect(phone.status).to_contain_text("On this phone only")
        record = phone.page.url.rsplit("/", 1)[1]
        phone.go(f"/records/{record}")
        expect(phone.page.get_by_label("Remarks")).to_have_value(WORDS)
        phone.go(f"/records/{'0' * 32}")
        here = phone.page.get_by_role("heading", name="This record is not on this phone")
        expect(here).to_be_visible()
        expect(phone.page.get_by_text("once there is a network")).to_be_visible()
        assert_usable(phone.page)
        phone.page.get_by_role("link", name="Cards on this phone").click()
        expect(phone.page.get_by_role("heading", name="1 not sent")).to_be_visible()


UNANSWERED = """
StorageManager.prototype.persisted = async () => false;
StorageManager.prototype.persist = () => new Promise(() => {});
"""


def test_a_question_that_the_browser_puts_to_its_user_holds_nothing_up(
    browser: Browser, tmp_path: Path
) -> None:
    """Firefox asks before it keeps data for good, and waits for as long as nobody answers."""
    with opened_field(tmp_path, browser) as field:
        phone = field.phone()
        phone.page.add_init_script(UNANSWERED)
        phone.set_up()
        phone.sign_away()
        phone.page.goto("about:blank")
        phone.find_network()
        phone.go("/phone")
        expect(phone.page.get_by_text("Signed here, and at the school")).to_be_visible()
        expect(phone.page.get_by_text("waits for the network")).to_have_count(0)
