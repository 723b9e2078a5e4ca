"""The page of one chart in a real browser: drawn by plotly, in the page's own colours."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from flask import render_template, request
from playwright.sync_api import Browser, Page, expect

from gradebook.pictures import figures, findings, numbers
from tests.cast import SECRET, TestSchool
from tests.pictures import samples
from tests.serving import served

PHONE = {"width": 360, "height": 780}
DESK = {"width": 1280, "height": 900}
OWN = [(1, 0.2), (2, 0.3)]
CHARTS = {
    "trend": (figures.trend_figure, findings.trend, numbers.trend, (samples.trend(5),)),
    "proof": (figures.proof_figure, findings.proof, numbers.proof, (samples.runs(),)),
    "severity": (
        figures.severity_figure,
        findings.severity,
        numbers.severity,
        (samples.instructors(),),
    ),
    "survival": (
        figures.survival_figure,
        findings.survival,
        numbers.survival,
        ([samples.curve("Revision 2"), samples.curve("Revision 3")],),
    ),
    "reliability": (
        figures.reliability_figure,
        findings.reliability,
        numbers.reliability,
        ([samples.one_bin(0.3, 4, 12), samples.one_bin(0.7, 5, 40)],),
    ),
    "cohort": (
        figures.cohort_figure,
        findings.cohort,
        numbers.cohort,
        (OWN, samples.cohort(5)),
    ),
}
WIDE = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


def explore() -> str:
    figure, finding, table, values = CHARTS[request.args.get("chart", "trend")]
    shown = table(*values)
    return render_template(
        "explore/page.html",
        title=finding(*values),
        figure_json=figure(*values),
        columns=shown.columns,
        rows=shown.rows,
        csv_url="/school?csv",
        trail=[("School watch", "/school")],
        why="",
        n="3 grades",
    )


@pytest.fixture
def address(school: TestSchool) -> Iterator[str]:
    """A school that shows a chart where the errors of the school stand, served."""
    school.app.view_functions["watch.school"] = explore
    with served(school.app) as address:
        yield address


def sign_in(browser: Browser, address: str, **context: object) -> tuple[Page, list[str]]:
    """The chief's browser, and what its console complains of."""
    page = browser.new_context(**context).new_page()
    page.goto(f"{address}/sign-in")
    page.get_by_label("E-mail address").fill("cleo@school.example")
    page.get_by_label("Secret").fill(SECRET)
    page.get_by_role("main").get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{address}/")
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text))
    page.on("pageerror", lambda fault: complaints.append(str(fault)))
    return page, complaints


def test_every_chart_is_drawn_and_nothing_is_refused(browser: Browser, address: str) -> None:
    page, complaints = sign_in(browser, address, viewport=PHONE)
    for name in CHARTS:
        page.goto(f"{address}/school?chart={name}")
        expect(page.locator(".plot .main-svg").first).to_be_visible()
        expect(page.locator(".plot .scatterlayer .trace")).not_to_have_count(0)
        expect(page.get_by_text("The chart needs JavaScript")).to_have_count(0)
        assert not page.evaluate("document.documentElement.scrollWidth > innerWidth"), name
        assert complaints == [], name


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_chart_has_the_colours_of_the_page(
    browser: Browser, address: str, scheme: str
) -> None:
    page, complaints = sign_in(browser, address, color_scheme=scheme)
    for size in (PHONE, DESK):
        page.set_viewport_size(size)
        page.goto(f"{address}/school")
        paper = page.locator(".plot .main-svg").first
        expect(paper).to_be_visible()
        colour = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
        assert paper.evaluate("(it) => getComputedStyle(it).backgroundColor") == colour
        found = Axe().run(page, options={"runOnly": {"type": "tag", "values": WIDE}})
        assert found.violations_count == 0, found.generate_report()
    assert complaints == []


def test_without_script_the_table_holds_the_numbers(browser: Browser, address: str) -> None:
    page, _ = sign_in(browser, address, java_script_enabled=False)
    page.goto(f"{address}/school")
    expect(page.get_by_text("The chart needs JavaScript; the table below")).to_be_visible()
    expect(page.get_by_role("cell", name="95 %", exact=True)).to_be_visible()


def test_when_the_library_does_not_arrive_the_table_holds_the_numbers(
    browser: Browser, address: str
) -> None:
    page, _ = sign_in(browser, address)
    page.route("**/vendor/*", lambda route: route.abort())
    page.goto(f"{address}/school")
    expect(page.get_by_text("The chart needs JavaScript; the table below")).to_be_visible()
    expect(page.locator(".plot-canvas")).to_have_count(0)
    expect(page.get_by_role("cell", name="95 %", exact=True)).to_be_visible()
