"""A card whose school is too busy to take it: kept, said, and sent again by itself."""

from pathlib import Path

from playwright.sync_api import Browser, Route, expect

from tests.browser.test_main_job import begin_card, sign_in
from tests.cast import close_school, open_school
from tests.serving import served
from tests.small_course import twenty_tasks

BUSY = {"error": "The database is busy."}


def test_a_busy_school_gets_the_card_later_without_another_tap(
    browser: Browser, tmp_path: Path
) -> None:
    school = open_school(tmp_path, files=twenty_tasks())
    with served(school.app) as address:
        page = sign_in(browser, address, "ben")
        begin_card(page)
        page.wait_for_load_state()  # scripts of the page have run

        def refuse(route: Route) -> None:
            if route.request.method == "POST":
                route.fulfill(status=503, json=BUSY, headers={"Retry-After": "1"})
            else:
                route.continue_()

        page.route("**/lessons/*", refuse)
        page.get_by_label("Remarks").fill("Words for a busy school")
        status = page.locator("[data-status]")
        expect(status).to_contain_text("The school is busy: it is sent in a moment, by itself.")
        expect(status).to_contain_text("kept on this phone")
        page.get_by_role("button", name="Review").click()
        expect(status).to_contain_text("The school is busy")
        expect(page.get_by_label("Remarks")).to_have_value("Words for a busy school")
        page.unroute("**/lessons/*")
        expect(status).to_contain_text("Saved ")
        page.reload()
        expect(page.get_by_label("Remarks")).to_have_value("Words for a busy school")
        page.context.close()
    close_school(school)
