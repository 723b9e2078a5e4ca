"""The flow run without a network: the same taps on the same draft as the card."""

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.offline.field import Field, KillableBrowser, Phone, assert_met, opened_field

LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


def to_the_run(phone: Phone, part: str = "Run-up") -> None:
    """From the card to one checklist of the flow run."""
    phone.page.get_by_role("button", name="Flow run").click()
    expect(phone.page.get_by_role("heading", name="Flow run")).to_be_visible()
    phone.page.get_by_role("link", name=part, exact=True).click()


def tap(page: Page, item: str, how: str = "performed") -> None:
    """Tap one item, by its code."""
    page.locator(f"#{item}").get_by_role("button", name=how).click()


def steps(field: Field) -> list[tuple[str, str]]:
    """The steps of the only record's card."""
    [row] = field.records()
    return [(step["item"], step["how"]) for step in row.card["steps"]]


def runs_away(field: Field) -> None:
    """Taps, a tap taken back and a remark out of reach are one draft, and arrive as one."""
    phone = field.ready_phone()
    phone.lose_network()
    phone.open_from_pocket()
    phone.type_remark("typed before the run")
    to_the_run(phone)
    page = phone.page
    tap(page, "select-both", "prompted")
    assert page.get_by_text("Selector left out").is_visible(), "the tap went nowhere"
    tap(page, "select-one")
    expect(page.get_by_text("belongs after it")).to_be_visible()
    page.get_by_role("button", name="Take the last tick back").click()
    expect(page.get_by_text("Selector left out")).to_be_visible()
    tap(page, "select-one")
    expect(phone.status).to_contain_text("On this phone only")
    page.reload()
    expect(page.locator(".tick")).to_have_count(2)
    page.get_by_role("button", name="Back to the card").click()
    expect(page.get_by_label("Remarks", exact=True)).to_have_value("typed before the run")
    assert page.get_by_text("tap to confirm: Selector done before").is_visible(), "not proposed"
    phone.fill_card()
    expect(phone.status).to_contain_text("On this phone only")
    phone.sign()
    expect(page.get_by_text("Signed and queued")).to_be_visible()
    assert field.line.deliveries() == 0
    phone.find_network()
    phone.sent()
    assert steps(field) == [("select-both", "prompted"), ("select-one", "done")]
    assert (field.signed(), field.findings()) == (1, [])


def test_a_flow_run_out_of_reach_is_part_of_the_card_that_is_signed(field: Field) -> None:
    runs_away(field)


def test_a_run_killed_in_the_middle_goes_on_where_it_was(
    field: Field, browser: Browser, tmp_path: Path
) -> None:
    killable = KillableBrowser(browser, tmp_path / "profile")
    phone = killable.phone(field.address)
    field.line.down = True
    phone.open_from_pocket()
    to_the_run(phone)
    tap(phone.page, "select-one")
    expect(phone.status).to_contain_text("On this phone only")
    place = phone.page.url
    killable.kill()
    phone = Phone(killable.open(), field.address)
    phone.page.goto(place)
    expect(phone.page.locator("#select-one .tick")).to_have_text("performed")
    tap(phone.page, "select-both", "skipped")
    expect(phone.status).to_contain_text("On this phone only")
    killable.kill()
    field.line.down = False
    phone = Phone(killable.open(), field.address)
    phone.sign_in()
    phone.sent()
    killable.close()
    assert steps(field) == [("select-one", "done"), ("select-both", "skipped")]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_run_is_done_by_keyboard_and_the_screen_is_usable(
    browser: Browser, tmp_path: Path, scheme: str
) -> None:
    with opened_field(tmp_path, browser) as field:
        phone = field.phone(color_scheme=scheme)
        phone.set_up()
        phone.lose_network()
        phone.open_from_pocket()
        to_the_run(phone, "Preflight")
        page = phone.page
        page.locator("#covers button").first.focus()
        page.keyboard.press("Enter")
        expect(page.locator("#covers .tick")).to_have_text("performed")
        expect(page.locator("#doors button").first).to_be_focused()
        page.keyboard.press("Tab")
        page.keyboard.press("Space")
        expect(page.locator("#doors .tick")).to_have_text("prompted")
        expect(page.get_by_role("button", name="Take the last tick back")).to_be_focused()
        found = Axe().run(page, options={"runOnly": {"type": "tag", "values": LEVELS}})
        assert found.violations_count == 0, found.generate_report()
        assert not page.evaluate("document.documentElement.scrollWidth > innerWidth")


def test_a_run_begun_with_a_network_goes_on_when_it_is_lost(field: Field) -> None:
    phone = field.phone()
    phone.page.get_by_role("button", name="Grade S-01").click()
    phone.type_remark("typed at the desk")
    expect(phone.status).to_contain_text("Saved")
    phone.set_up()
    phone.go("/")
    phone.page.get_by_role("link", name="Go on").click()
    to_the_run(phone)
    phone.page.wait_for_url("**/flow?part=*")  # with its script
    tap(phone.page, "select-one")
    expect(phone.page.locator("#select-one .tick")).to_have_text("performed")
    expect(phone.page.locator("#select-both button").first).to_be_focused()
    phone.lose_network()
    tap(phone.page, "select-both")
    expect(phone.page.get_by_text("Taken along")).to_be_visible()
    expect(phone.page.locator(".tick")).to_have_count(2)
    phone.page.get_by_role("button", name="Back to the card").click()
    expect(phone.page.get_by_label("Remarks", exact=True)).to_have_value("typed at the desk")
    phone.find_network()
    phone.sent()
    assert steps(field) == [("select-one", "done"), ("select-both", "done")]
    card = phone.page.url
    phone.page.goto(card)
    expect(phone.page.get_by_role("button", name="2 items ticked")).to_be_visible()


def test_steps_of_this_phone_reach_the_school_over_the_schools_own_card(field: Field) -> None:
    phone = field.ready_phone()
    phone.page.get_by_role("link", name="Grade S-0").first.click()
    phone.type_remark("typed at the desk")
    expect(phone.status).to_contain_text("Saved")
    phone.lose_network()
    to_the_run(phone)
    tap(phone.page, "select-one")
    expect(phone.status).to_contain_text("On this phone only")
    card = phone.page.url.partition("/flow")[0]
    phone.page.goto("about:blank")
    phone.find_network()
    phone.page.goto(card)
    expect(phone.page.get_by_role("button", name="1 item ticked")).to_be_visible()
    assert steps(field) == [("select-one", "done")]


def goes_on_from_what_was_saved(field: Field) -> None:
    """What the school got from this phone is on the card that is opened without a network."""
    phone = field.phone()
    phone.page.get_by_role("button", name="Grade S-01").click()
    expect(phone.status).to_be_visible()
    card = phone.page.url
    phone.set_up()
    phone.page.goto(card)
    with phone.page.expect_response(lambda told: told.request.method == "POST"):
        phone.type_remark("saved after the pocket was filled")
    expect(phone.status).to_contain_text("Saved")
    phone.run("while ((await db.waiting()).length) await new Promise((go) => setTimeout(go));")
    phone.lose_network()
    phone.page.goto(card)
    kept = phone.remarks()
    assert kept == "saved after the pocket was filled", f"kept: {kept!r}"
    phone.page.get_by_label("Registration").fill("KM-H1")
    expect(phone.status).to_contain_text("On this phone only")
    phone.find_network()
    phone.sent()
    [row] = field.records()
    assert (row.card["remarks"], row.card["ident"]) == (
        "saved after the pocket was filled",
        "KM-H1",
    )


def test_nothing_saved_from_this_phone_is_overwritten_by_an_older_pocket(field: Field) -> None:
    goes_on_from_what_was_saved(field)


PLANTED = {
    "a tap is not kept": (
        ("phone/carding.js", "way.before = { ...way.before, steps };", ""),
        runs_away,
        "the tap went nowhere",
    ),
    "words go when the school has them": (
        (
            "phone/drafts.js",
            "dirty: false, plain: null }",
            "dirty: false, plain: null, sealed: null }",
        ),
        goes_on_from_what_was_saved,
        "kept: ''",
    ),
    "nothing is proposed on the card": (
        ("phone/chips.js", "marks.map((one) => [one.error, one.why])", "[]"),
        runs_away,
        "not proposed",
    ),
}


@pytest.mark.parametrize("name", PLANTED)
def test_a_fault_in_a_script_is_met(browser: Browser, tmp_path: Path, name: str) -> None:
    assert_met(browser, tmp_path, *PLANTED[name])
