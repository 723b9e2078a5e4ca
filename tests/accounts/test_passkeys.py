"""Passkeys in a real browser, with a key of the browser's own making."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect
from sqlalchemy import select

from gradebook.records.tables.ledger import SigningKey
from gradebook.records.tables.people import SecondFactor
from tests.cast import SECRET, TestSchool, Visitor
from tests.serving import served
from tests.walks.test_main_job import FILLED, lesson_form, open_card

REFUSING = """() => {
  const refuse = () => Promise.reject(new DOMException("", "NotAllowedError"));
  navigator.credentials.create = refuse;
}"""
KEY = {
    "protocol": "ctap2",
    "transport": "internal",
    "hasResidentKey": True,
    "hasUserVerification": True,
    "isUserVerified": True,
    "automaticPresenceSimulation": True,
}


@pytest.fixture
def page(strict_school: TestSchool, browser: Browser) -> Iterator[Page]:
    """A page of the school in a browser that has a place for passkeys."""
    with served(strict_school.app) as address:
        context = browser.new_context(base_url=address.replace("127.0.0.1", "localhost"))
        opened = context.new_page()
        devtools = context.new_cdp_session(opened)
        devtools.send("WebAuthn.enable")
        devtools.send("WebAuthn.addVirtualAuthenticator", {"options": KEY})
        yield opened
        context.close()


def sign_in(page: Page) -> None:
    page.goto("/sign-in")
    page.get_by_label("E-mail address").fill("ben@school.example")
    page.get_by_label("Secret").fill(SECRET)
    page.get_by_role("main").get_by_role("button", name="Sign in").click()


def add_passkey(page: Page) -> None:
    """Ben signs in for the first time and adds a passkey."""
    sign_in(page)
    page.get_by_role("link", name="Add a passkey").click()
    page.get_by_label("Its name").fill("my phone")
    page.get_by_role("button", name="Make a passkey").click()
    expect(page.get_by_role("heading", name="Ten recovery codes")).to_be_visible()
    page.get_by_role("link", name="I have kept them").click()


def test_a_passkey_is_added_and_signs_in(page: Page, strict_school: TestSchool) -> None:
    add_passkey(page)
    expect(page.get_by_role("heading", name="student of yours")).to_be_visible()
    page.context.clear_cookies(name="windtee_session")
    sign_in(page)
    expect(page.get_by_role("heading", name="Show your second factor")).to_be_visible()
    page.get_by_role("button", name="Use a passkey").click()
    expect(page.get_by_role("heading", name="of yours")).to_be_visible()
    with strict_school.database.read() as session:
        row = session.scalars(select(SecondFactor)).one()
    assert (row.kind, row.label, row.counter) == ("passkey", "my phone", 2)


def test_a_passkey_signs_a_record(page: Page, strict_school: TestSchool) -> None:
    school = strict_school
    add_passkey(page)
    record = card_of_ben(page, school)
    page.goto(f"/lessons/{record}/review")
    page.get_by_role("button", name="Use a passkey instead").click()
    expect(page.get_by_role("heading", name="Review and sign")).to_be_visible()
    page.get_by_label("Your secret").fill(SECRET)
    page.get_by_role("button", name="Use a passkey instead").click()
    expect(page.get_by_text("Signed. Hand the phone")).to_be_visible()


def test_a_passkey_closes_a_watch_item(page: Page, strict_school: TestSchool) -> None:
    school = strict_school
    add_passkey(page)
    record = card_of_ben(page, school)
    page.goto(f"/lessons/{record}/review")
    page.get_by_label("Your secret").fill(SECRET)
    page.get_by_role("button", name="Use a passkey instead").click()
    expect(page.get_by_text("Signed. Hand the phone")).to_be_visible()
    school.clock.pass_minutes(11)
    page.goto(f"/students/{school.enrolment}/tasks/run-up")
    page.get_by_text("Decide that it may be closed").first.click()
    page.get_by_label("Why may it be closed?").first.fill("Shown twice without.")
    page.get_by_label("Your secret").first.fill(SECRET)
    page.get_by_role("button", name="Use a passkey instead").first.click()
    expect(page.get_by_text("Your decision is on the record.")).to_be_visible()


def card_of_ben(page: Page, school: TestSchool) -> str:
    """A finished card, filled in with the cookie of the browser."""
    cookies = {one["name"]: one["value"] for one in page.context.cookies()}
    ben = school.visitor()
    ben.client.set_cookie("windtee_session", cookies["windtee_session"])
    ben.get("/")
    record, card = open_card(ben, school)
    ben.send(f"/lessons/{record}", {**FILLED, **lesson_form(card)})
    return record


def test_a_passkey_that_is_not_used_says_so(page: Page) -> None:
    sign_in(page)
    page.get_by_role("link", name="Add a passkey").click()
    expect(page.get_by_role("button", name="Make a passkey")).to_be_visible()
    page.evaluate(REFUSING)
    page.get_by_role("button", name="Make a passkey").click()
    expect(page.get_by_role("alert")).to_have_text(
        "No passkey was made: it was cancelled, refused or took too long. Try again."
    )


def test_a_device_that_has_a_passkey_already_is_told_so_in_plain_words(page: Page) -> None:
    add_passkey(page)
    page.goto("/account/factors/passkey")
    page.get_by_role("button", name="Make a passkey").click()
    expect(page.get_by_role("alert")).to_have_text(
        "This device keeps a passkey of yours already."
    )


def test_a_device_without_the_passkey_says_what_else_opens_the_door(page: Page) -> None:
    add_passkey(page)
    page.context.clear_cookies(name="windtee_session")
    other = page.context.new_page()
    devtools = page.context.new_cdp_session(other)
    devtools.send("WebAuthn.enable")
    devtools.send("WebAuthn.addVirtualAuthenticator", {"options": KEY})
    sign_in(other)
    other.get_by_role("button", name="Use a passkey").click()
    expect(other.get_by_role("alert")).to_contain_text("this device has none of yours")
    expect(other.get_by_role("alert")).to_contain_text("type a code")


def test_a_passkey_without_a_name_is_called_after_its_browser(page: Page) -> None:
    sign_in(page)
    page.get_by_role("link", name="Add a passkey").click()
    expect(page.get_by_label("Its name")).to_have_value("Chrome on Linux")


def test_the_name_it_gets_is_in_the_language_of_the_page(strict_school: TestSchool) -> None:
    who = strict_school.visitor("ben")
    linux = "Mozilla/5.0 (X11; Linux x86_64) Firefox/140.0"
    headers = {"Accept-Language": "de", "User-Agent": linux}
    found = who.client.get("/account/factors/passkey", headers=headers).text
    assert 'value="Firefox auf Linux"' in found


def test_a_page_opened_by_number_says_by_which_name_passkeys_work(
    strict_school: TestSchool,
) -> None:
    who = strict_school.visitor("ben")
    asked = {"base_url": "http://127.0.0.1:8765"}
    who.client.set_cookie("windtee_session", session_of(who), domain="127.0.0.1")
    found = who.client.get("/account/factors/passkey", **asked).text
    assert "Browsers keep passkeys for names" in found
    assert 'href="http://localhost:8765/account/factors/passkey"' in found
    assert "Add a code generator instead" in found
    assert "data-passkey-button" not in found


def session_of(who: Visitor) -> str:
    cookie = who.client.get_cookie("windtee_session")
    assert cookie is not None
    return cookie.value


def test_the_answer_of_a_browser_at_a_number_is_said_in_our_words(
    page: Page,
) -> None:
    add_passkey(page)
    page.context.clear_cookies(name="windtee_session")
    page.goto(page.url.replace("localhost", "127.0.0.1"))
    page.get_by_label("E-mail address").fill("ben@school.example")
    page.get_by_label("Secret").fill(SECRET)
    page.get_by_role("main").get_by_role("button", name="Sign in").click()
    page.get_by_role("button", name="Use a passkey").click()
    expect(page.get_by_role("alert")).to_contain_text("Browsers keep passkeys for names")


def test_without_script_a_code_generator_is_offered_instead(
    strict_school: TestSchool,
) -> None:
    who = strict_school.visitor("ben")
    found = who.get("/account/factors/passkey")
    assert "Add a code generator instead" in found
    assert "data-passkey-button hidden" in " ".join(found.split())


@pytest.mark.parametrize("answer", ["", "{}", "[]", "not json", '{"id": "x", "rawId": "x"}'])
def test_an_answer_no_passkey_gave_is_refused(strict_school: TestSchool, answer: str) -> None:
    who = strict_school.visitor("ben")
    who.get("/account/factors/passkey")
    page = who.post("/account/factors/passkey", 422, passkey=answer)
    assert "The passkey did not answer as it should." in page


def test_a_passkey_alone_sets_a_phone_up(page: Page, strict_school: TestSchool) -> None:
    add_passkey(page)
    strict_school.clock.pass_minutes(11)
    page.goto("/account/phones")
    secret = page.get_by_label("Your secret")
    secret.fill(SECRET)
    page.get_by_role("button", name="Set this phone up").click()
    expect(page.get_by_role("alert").filter(has_text="second factor")).to_be_visible()
    secret.fill("some other sentence")
    page.get_by_role("button", name="Use a passkey instead").click()
    expect(page.get_by_role("alert").filter(has_text="not the secret")).to_be_visible()
    secret.fill(SECRET)
    page.get_by_role("button", name="Use a passkey instead").click()
    page.wait_for_url("**/phone")
    with strict_school.database.read() as session:
        [name] = [one.device for one in session.scalars(select(SigningKey)) if one.device]
    assert name == "My phone"


def test_who_has_no_passkey_is_not_offered_one_for_a_phone(
    page: Page, strict_school: TestSchool
) -> None:
    add_passkey(page)
    with strict_school.database.write() as session:
        session.delete(session.scalars(select(SecondFactor)).one())
    page.goto("/account/phones")
    expect(page.get_by_label("Your secret")).to_be_visible()
    expect(page.get_by_role("button", name="Use a passkey instead")).to_have_count(0)
