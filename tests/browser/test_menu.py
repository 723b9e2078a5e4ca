"""The menu on a wide screen."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.cast import SECRET, close_school, open_school
from tests.serving import served


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_menu_of_a_chief_stands_in_one_row_of_a_laptop(
    browser: Browser, tmp_path: Path, language: str
) -> None:
    school = open_school(tmp_path)
    with served(school.app) as address:
        page = browser.new_context(
            locale=language, viewport={"width": 1280, "height": 800}
        ).new_page()
        page.goto(f"{address}/sign-in")
        page.locator("[name=email]").fill("cleo@school.example")
        page.locator("[name=secret]").fill(SECRET)
        page.locator("[name=secret]").press("Enter")
        links = page.locator(".menu-links a")
        expect(links).to_have_count(11)
        for at in links.evaluate_all("all => all.map((one) => one.href)"):
            page.goto(at)  # the page one is on stands in bold
            assert len(set(links.evaluate_all("all => all.map((one) => one.offsetTop)"))) == 1
        page.context.close()
    close_school(school)
