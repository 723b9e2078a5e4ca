"""A page waits for its stylesheet where it should, and is not laid out before."""

from pathlib import Path

from playwright.sync_api import Browser, Route, expect

from tests.cast import close_school, open_school
from tests.serving import served


def test_what_stands_in_a_page_is_read_when_its_stylesheet_is_there(
    browser: Browser, tmp_path: Path
) -> None:
    school = open_school(tmp_path)
    held: list[Route] = []
    with served(school.app) as address:
        page = browser.new_context().new_page()
        page.route("**/pages.css", lambda route: held.append(route))
        with page.expect_response("**/styled.js"):
            page.goto(f"{address}/sign-in", wait_until="commit")
        expect(page.locator("header.head")).to_be_attached()
        assert page.locator("main").count() == 0
        held[0].continue_()
        expect(page.locator("main")).to_be_visible()
        page.context.close()
    close_school(school)
