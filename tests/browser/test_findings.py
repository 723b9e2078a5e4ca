"""The pages of findings in a real browser: open to everybody, in both lights, on a phone."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from tests.browser.test_main_job import WIDE, sign_in
from tests.cast import TestSchool
from tests.serving import served
from tests.walks.test_main_job import sign_first_lesson


@pytest.fixture
def address(school: TestSchool) -> Iterator[str]:
    """A school with one signed lesson, served."""
    sign_first_lesson(school)
    with served(school.app) as address:
        yield address


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_findings_are_accessible(
    browser: Browser, school: TestSchool, address: str, scheme: str
) -> None:
    page = sign_in(browser, address, "cleo", scheme)
    student = f"/students/{school.enrolment}"
    watch = [f"/school{part}" for part in ("", "/instructors", "/progress", "/forecasts")]
    for path in (student, f"{student}/tasks/hover", f"{student}/cohort", *watch):
        page.goto(f"{address}{path}")
        page.evaluate("document.querySelectorAll('main details').forEach(d => (d.open = true))")
        found = Axe().run(page, options={"runOnly": {"type": "tag", "values": WIDE}})
        assert found.violations_count == 0, found.generate_report()
        assert not page.evaluate("document.documentElement.scrollWidth > innerWidth"), path
