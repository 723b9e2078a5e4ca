"""The page that verifies, in a real browser: the file never leaves the device."""

import io
import json
import re
from pathlib import Path

from playwright.sync_api import Browser
from pypdf import PdfReader

from gradebook.ledger.bundle import fingerprint
from tests.browser.test_main_job import sign_in
from tests.cast import TestSchool
from tests.copies.paper_trail import certify, fly, whole_course
from tests.copies.test_pages import certified
from tests.serving import served


def test_a_file_is_judged_without_being_sent(
    school: TestSchool, browser: Browser, tmp_path: Path
) -> None:
    fly(school, "s-01")
    data = certify(school)
    file = tmp_path / "ana.windtee-record"
    file.write_bytes(data)
    with served(school.app) as address:
        context = browser.new_context()
        page = context.new_page()
        refused: list[str] = []
        page.on("console", lambda told: refused.append(told.text))
        page.goto(f"{address}/verify")
        sent: list[str] = []
        page.on("request", lambda asked: sent.append(asked.method))
        place = page.locator("[data-verdict-place]")
        told = {}
        for key in (fingerprint(json.loads(data)["vkey"]), "0" * 32, ""):
            page.set_input_files("input[type=file]", file)
            page.fill("#key", key)
            page.get_by_role("button", name="Verify").click()
            place.locator(".verdict").wait_for()
            told[key[:4]] = place.inner_text()
            place.evaluate("(one) => one.replaceChildren()")
        context.close()
    plain, exact = zip(*(words.split("\n\n")[:2] for words in told.values()), strict=True)
    assert plain == (
        "The record is whole and unaltered.",
        "It is signed with a key that is unknown, was revoked, or is not the one named.",
        "The file agrees with itself. Whose key signed it was not compared.",
    )
    assert [words.split(":")[0] for words in exact] == [
        "Good",
        "Unknown or revoked key",
        "Good",
    ]
    assert "POST" not in sent
    assert refused == []


def test_every_sheet_that_a_browser_prints_says_whose_record_it_is(
    school: TestSchool, browser: Browser
) -> None:
    whole_course(school)
    fly(school, "s-01", readings={"left-drop": "140"})
    copy = certified(school)
    with served(school.app) as address:
        page = sign_in(browser, address, "cleo")
        page.goto(f"{address}{copy}")
        assert "Copy of" not in page.locator(".copy-sheet").inner_text()
        sheets = PdfReader(io.BytesIO(page.pdf(format="A5"))).pages
        page.context.close()
    words = [" ".join(sheet.extract_text().split()) for sheet in sheets]
    assert len(words) > 3
    assert [one for one in words if not re.search(r"Ana, [\w ]+\. [\w ]+\. Copy of", one)] == []
    assert "140 rpm, within limits (over 0, at most 175 rpm)" in " ".join(words)
    assert " ".join(words).count("Not for use in") == 1  # the copy's own caution
