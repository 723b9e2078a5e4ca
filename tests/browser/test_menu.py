"""The menu on a wide screen."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.cast import SECRET, close_school, open_school
from tests.serving import served

SPARE = """(field) => {
  const style = getComputedStyle(field);
  const pen = document.createElement("canvas").getContext("2d");
  pen.font = style.font;
  const padding = parseFloat(style.paddingLeft) + parseFloat(style.paddingRight);
  return field.clientWidth - padding - pen.measureText(field.placeholder).width;
}"""
"""How many pixels a field is wider than the words that stand in it while it is empty."""
CLEARING = 24
"""Pixels that browsers keep free for the sign that clears a field."""


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


@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("language", ["en", "de"])
def test_the_field_that_finds_a_student_shows_all_that_it_says(
    browser: Browser, tmp_path: Path, language: str, width: int
) -> None:
    school = open_school(tmp_path)
    with served(school.app) as address:
        page = browser.new_context(
            locale=language, viewport={"width": width, "height": 800}
        ).new_page()
        page.goto(f"{address}/sign-in")
        page.locator("[name=email]").fill("ben@school.example")
        page.locator("[name=secret]").fill(SECRET)
        page.locator("[name=secret]").press("Enter")
        expect(page.locator(".menu-links a").first).to_be_attached()
        for at in ("/", "/find?q=Nobody"):
            page.goto(f"{address}{at}")
            if width == 360 and at == "/":
                page.locator(".menu-button").click()
            field = page.locator("[type=search]:visible").last
            assert field.evaluate(SPARE) >= CLEARING
        page.context.close()
    close_school(school)
