"""The verifier of the browser, written apart, and that of the program: always the same code."""

import base64
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial

import pytest
from playwright.sync_api import Browser, Page, Route

from gradebook.ledger.bundle import fingerprint, verify_bundle
from gradebook.ledger.bundle_file import LARGEST_FILE
from gradebook.ledger.notes import verifier_key
from tests.ledger.mutating import mutated
from tests.ledger.phone_ledgers import PHONES, phone_file
from tests.ledger.small_ledger import GOOD, ORIGIN, public
from tests.ledger.spoilt_files import CONTENT, RAW, spoilt
from tests.ledger.test_bundle_forged import (
    CERTIFICATES,
    FORGED,
    badly_certified,
    certified_last,
    forged,
)
from tests.run import ROOT

SITE = "https://records.example"  # answered here: WebCrypto wants a secure address
VKEY = verifier_key(ORIGIN, public("school"))
FINGERPRINT = fingerprint(VKEY)
ASK = """async ([files, trusted]) => {
  const { verifyBundle } = await import("/verify.js");
  const told = [];
  for (const file of files) {
    const bytes = Uint8Array.from(atob(file), (one) => one.charCodeAt(0));
    told.push((await verifyBundle(bytes, trusted)).code);
  }
  return told;
}"""
Ask = Callable[[list[bytes], str | None], list[int]]


def answer(route: Route) -> None:
    name = route.request.url.rpartition("/")[2]
    script = ROOT / "static/js" / name
    body = script.read_text() if name.endswith(".js") else "<!doctype html>"
    kind = "text/javascript" if name.endswith(".js") else "text/html"
    route.fulfill(body=body, content_type=f"{kind}; charset=utf-8")


@contextmanager
def empty_page(browser: Browser) -> Iterator[Page]:
    """An empty page that may load the verifier, and nothing else."""
    context = browser.new_context()
    context.route("**/*", answer)
    opened = context.new_page()
    opened.goto(SITE)
    yield opened
    context.close()


@contextmanager
def asking(browser: Browser) -> Iterator[Ask]:
    """The browser's codes for many files."""
    with empty_page(browser) as page:
        yield partial(codes_of, page)


def codes_of(page: Page, files: list[bytes], trusted: str | None = FINGERPRINT) -> list[int]:
    codes: list[int] = []
    for at in range(0, len(files), 50):
        batch = [base64.b64encode(one).decode() for one in files[at : at + 50]]
        codes += page.evaluate(ASK, [batch, trusted])
    return codes


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    with empty_page(browser) as opened:
        yield opened


@pytest.fixture
def ask(page: Page) -> Ask:
    """The browser's codes for these files."""
    return partial(codes_of, page)


def disagreements(ask: Ask, files: dict[str, bytes], trusted: str | None = FINGERPRINT) -> list:
    """Name, the program's code and the browser's, where they differ."""
    ours = [verify_bundle(data, trusted).code for data in files.values()]
    theirs = ask(list(files.values()), trusted)
    return [row for row in zip(files, ours, theirs, strict=True) if row[1] != row[2]]


def test_the_browser_believes_a_good_record(ask: Ask) -> None:
    assert ask([GOOD, GOOD[:-1]], FINGERPRINT) == [0, 0]


@pytest.mark.parametrize("trusted", [None, VKEY, FINGERPRINT.upper(), "", "ab" * 16, VKEY[:-1]])
def test_both_trust_the_same_keys(ask: Ask, trusted: str | None) -> None:
    assert disagreements(ask, {"good": GOOD}, trusted) == []


def test_both_refuse_spoilt_records_alike(ask: Ask) -> None:
    assert disagreements(ask, {name: spoilt(name) for name in CONTENT} | RAW) == []


def test_both_refuse_dishonest_ledgers_alike(ask: Ask) -> None:
    files = {name: forged(name) for name in FORGED} | {"last": certified_last()}
    assert disagreements(ask, files | {one: badly_certified(one) for one in CERTIFICATES}) == []


def test_both_judge_phones_alike(ask: Ask) -> None:
    files = {name: phone_file(name) for name in PHONES}
    assert disagreements(ask, files) == []
    assert ask(list(files.values()), FINGERPRINT) == [code for code, _ in PHONES.values()]


def test_both_refuse_records_spoilt_in_several_ways_alike(ask: Ask) -> None:
    files = dict(mutated(8785, number) for number in range(600))
    assert len(files) == 600
    assert disagreements(ask, files) == []


def test_a_file_larger_than_any_record_is_not_even_read(page: Page) -> None:
    told = page.evaluate(
        """async (size) => {
          const { verifyBundle } = await import("/verify.js");
          return verifyBundle(new Uint8Array(size).fill(32), null);
        }""",
        LARGEST_FILE + 1,
    )
    assert (told["code"], "larger" in told["line"]) == (5, True)


def test_a_page_without_secure_address_says_that_it_cannot_judge(browser: Browser) -> None:
    context = browser.new_context()
    context.route("**/*", answer)
    opened = context.new_page()
    opened.goto("http://records.example")
    file = base64.b64encode(GOOD).decode()
    assert opened.evaluate(ASK, [[file], FINGERPRINT]) == [1]
    context.close()
