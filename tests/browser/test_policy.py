"""The policy in a real browser: no page asks for what it refuses."""

import re
from collections.abc import Iterator
from urllib.parse import urljoin, urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext

from tests.cast import SECRET, TestSchool
from tests.serving import served
from tests.walks.test_main_job import open_card, sign_first_lesson

WATCH = """
window.refused = [];
addEventListener("securitypolicyviolation", (event) =>
  refused.push(`${event.violatedDirective} ${event.blockedURI} ${event.sourceFile}`));
"""
INLINE = re.compile(r"<[a-z][^>]*\s(?:style|on[a-z]+)\s*=", re.IGNORECASE)
LINKS = "[...document.querySelectorAll('a[href]:not([download])')].map((one) => one.href)"
IDS = re.compile(r"[0-9a-f]{32,}|(?<=/tasks/)[\w-]+")
EACH = 2
"""So many pages of one kind are opened."""


@pytest.fixture
def address(school: TestSchool) -> Iterator[str]:
    """A school with a signed lesson and a draft, served."""
    sign_first_lesson(school)
    open_card(school.visitor("ben"), school, "s-02")
    with served(school.app) as address:
        yield address


def crawl(context: BrowserContext, address: str) -> dict[str, list[str]]:
    """Every page within reach, with what the policy refused there and all inline code."""
    page = context.new_page()
    waiting, found = [f"{address}/", f"{address}/nothing"], {}
    kinds: dict[str, int] = {}
    while waiting:
        path = urlsplit(waiting.pop(0))._replace(fragment="").geturl()
        kind = IDS.sub("*", path.partition("?")[0])
        kinds[kind] = kinds.get(kind, 0) + 1
        if path in found or kinds[kind] > EACH or kind.endswith(".csv"):
            continue
        answer = page.goto(path)
        text = answer.text() if is_page(answer) else ""
        found[path] = page.evaluate("refused") + INLINE.findall(text)
        links = [urljoin(path, one) for one in page.evaluate(LINKS)]
        waiting += [one for one in links if one.startswith(f"{address}/")]
    return found


def is_page(answer: object) -> bool:
    return "text/html" in answer.headers.get("content-type", "")


@pytest.mark.parametrize(("name", "least"), [("cleo", 20), ("ana", 8), ("ben", 12), ("flo", 5)])
def test_no_page_asks_for_what_the_policy_refuses(
    browser: Browser, address: str, name: str, least: int
) -> None:
    context = browser.new_context()
    context.add_init_script(WATCH)
    page = context.new_page()
    page.goto(f"{address}/sign-in")
    page.get_by_label("E-mail address").fill(f"{name}@school.example")
    page.get_by_label("Secret").fill(SECRET)
    page.get_by_role("main").get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda url: "/sign-in" not in url)
    found = crawl(context, address)
    context.close()
    assert {path: words for path, words in found.items() if words} == {}
    assert len(found) >= least, sorted(found)


def test_the_browser_does_refuse_inline_code(
    browser: Browser, school: TestSchool, address: str
) -> None:
    school.app.view_functions["syllabus.index"] = lambda: (
        "<p style='color: red' onclick='alert(1)'>x</p><script>window.ran = 1</script>"
    )
    context = browser.new_context()
    context.add_init_script(WATCH)
    page = context.new_page()
    school.app.view_functions["auth.sign_in"] = school.app.view_functions["syllabus.index"]
    page.goto(f"{address}/sign-in")
    refused = page.evaluate("refused")
    assert page.evaluate("window.ran") is None
    context.close()
    assert {one.split()[0] for one in refused} == {
        "style-src-attr", "script-src-attr", "script-src-elem",
    }  # fmt: skip
