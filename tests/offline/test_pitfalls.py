"""What goes wrong with phones, and what they say then: nothing typed is lost by any of it."""

import json
import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Route, expect

from gradebook import assets
from gradebook.assets import Asset
from gradebook.records.act import Act
from gradebook.records.commands import phones
from gradebook.security.limits import HOSTS
from tests.cast import SECRET
from tests.chromium import FLAGS
from tests.offline.field import SMALL, WORDS, Field, KillableBrowser, Phone
from tests.walks.test_main_job import sign_first_lesson


def set_up(field: Field) -> Phone:
    """Ben's phone, ready to be carried away."""
    return field.ready_phone()


def test_an_ended_phone_keeps_its_words_and_says_so(field: Field) -> None:
    phone = set_up(field)
    phone.sign_away()
    with field.school.database.write() as session:
        act: Act = field.school.act(session, "ben")
        [kid] = phones.in_force(session, field.school.ids["ben"])
        phones.revoke(act, kid)
    phone.find_network()
    phone.go("/phone")
    stuck = phone.page.locator("[data-letter='quarantined']")
    expect(stuck).to_contain_text("this phone's key is not taken any more")
    expect(phone.page.get_by_role("alert")).to_contain_text("could not be taken by the school")
    assert field.signed() == 0
    stuck.get_by_role("button", name="Open it as a card again").click()
    expect(phone.page.get_by_label("Remarks", exact=True)).to_have_value(WORDS)


def test_what_the_school_would_not_state_any_more_is_signed_again(field: Field) -> None:
    phone = set_up(field)
    phone.sign_away()
    sign_first_lesson(field.school)
    phone.find_network()
    phone.go("/phone")
    stuck = phone.page.locator("[data-letter='changed']")
    expect(stuck).to_contain_text("Attempt: signed 1, now 2.")
    assert field.signed() == 1
    stuck.get_by_role("button", name="Open it as a card again").click()
    expect(phone.page.get_by_label("Remarks", exact=True)).to_have_value(WORDS)
    phone.sign()
    expect(phone.page.get_by_text("Signed. Hand the phone")).to_be_visible()
    assert field.signed() == 2


def test_a_full_disk_is_said_and_the_words_stay_on_the_screen(
    field: Field, browser: Browser, tmp_path: Path
) -> None:
    killable = KillableBrowser(browser, tmp_path / "profile")
    phone = killable.phone(field.address)
    field.line.down = True
    phone.open_from_pocket()
    phone.type_remark("first words")
    expect(phone.status).to_contain_text("On this phone only")
    card = phone.page.url
    killable.close()

    page = killable.open()
    full = {"origin": field.address, "quotaSize": 1}
    page.context.new_cdp_session(page).send("Storage.overrideQuotaForOrigin", full)
    page.goto(card)
    phone = Phone(page, field.address)
    expect(page.get_by_label("Remarks", exact=True)).to_have_value("first words")
    phone.type_remark("words without room")
    expect(phone.status).to_contain_text("No room on this phone")
    expect(phone.status).to_have_attribute("role", "alert")
    expect(page.get_by_label("Remarks", exact=True)).to_have_value("words without room")
    killable.close()


def test_signing_out_asks_before_anything_is_dropped(field: Field) -> None:
    phone = set_up(field)
    phone.sign_away()
    field.line.down = True
    phone.find_network()
    phone.go("/phone")
    phone.page.route("**/api/**", lambda route: route.abort())
    field.line.down = False
    phone.go("/syllabus")
    expect(phone.unsent).to_have_text("1 not sent")
    phone.page.get_by_role("button", name="Menu").click()
    phone.page.get_by_role("button", name="Sign out").click()
    asked = phone.page.get_by_role("dialog")
    expect(asked.get_by_role("heading")).to_have_text("1 card on this phone is not sent")
    expect(asked.get_by_role("button", name="Drop what waits")).to_be_disabled()
    asked.get_by_role("button", name="Sign out, keep it here").click()
    expect(phone.page.get_by_label("E-mail address")).to_be_visible()
    expect(phone.unsent).to_contain_text("not sent")
    left = phone.run("return [(await db.all('cards')).length, (await db.all('open')).length]")
    assert left == [0, 0]
    _told_to_whoever_comes(phone)
    phone.page.unroute("**/api/**")
    phone.sign_in()
    expect(phone.page.get_by_text("Type your secret to send them")).to_be_visible()
    phone.go("/phone")
    phone.page.get_by_label("Your secret").fill(SECRET)
    phone.page.get_by_role("button", name="Open this phone").click()
    phone.sent()
    assert field.signed() == 1


def _told_to_whoever_comes(phone: Phone) -> None:
    """A phone that nobody is signed in on says what waits, and not that all has arrived."""
    phone.go("/phone")
    waits = phone.page.locator("[data-waiting]")
    expect(waits.get_by_role("heading")).to_have_text("1 card waits on this phone")
    expect(waits).not_to_contain_text("The school has everything")
    expect(waits.get_by_role("link", name="Sign in")).to_be_visible()


def test_nobody_is_signed_out_while_what_clears_the_phone_cannot_be_fetched(
    field: Field,
) -> None:
    phone = field.phone(service_workers="block")
    phone.page.route("**/js/phone/leaving.js", lambda route: route.abort())
    phone.go("/")
    phone.page.get_by_role("button", name="Menu").click()
    phone.page.get_by_role("button", name="Sign out").click()
    expect(phone.page.get_by_role("alert")).to_contain_text("Not signed out")
    phone.page.unroute("**/js/phone/leaving.js")
    phone.go("/")
    phone.page.get_by_role("button", name="Menu").click()
    phone.page.get_by_role("button", name="Sign out").click()
    phone.page.wait_for_url("**/sign-in")


def test_a_wrong_secret_opens_nothing(field: Field) -> None:
    phone = set_up(field)
    phone.run("await vault.lock(await db.whose())")
    phone.lose_network()
    phone.go("/")
    phone.page.get_by_label("Your secret").fill("some other sentence")
    phone.page.get_by_role("button", name="Open this phone").click()
    expect(phone.page.get_by_role("alert")).to_contain_text("not the secret")
    phone.page.get_by_label("Your secret").fill(SECRET)
    phone.page.get_by_role("button", name="Open this phone").click()
    expect(phone.page.get_by_role("link", name="Ana")).to_be_visible()


def test_nothing_typed_lies_open_in_the_database(field: Field) -> None:
    phone = set_up(field)
    phone.lose_network()
    phone.open_from_pocket()
    phone.type_remark("a word nobody else may read")
    expect(phone.status).to_contain_text("On this phone only, not yet saved · sealed")
    stores = ["vaults", "cards", "drafts", "letters", "receipts", "facts"]
    dump = phone.run(
        "return JSON.stringify(await Promise.all(given.map((one) => db.all(one))))", stores
    )
    assert "nobody else" not in dump
    assert "Ana" not in dump
    assert '"dirty":true' in dump


def test_the_outbox_goes_over_to_another_device_as_a_file(field: Field, tmp_path: Path) -> None:
    phone = set_up(field)
    phone.sign_away()
    phone.go("/phone")
    with phone.page.expect_download() as coming:
        phone.page.get_by_role("button", name="Save what waits to a file").click()
    path = tmp_path / "outbox.json"
    coming.value.save_as(path)
    assert json.loads(path.read_text())["format"] == "windtee-outbox/1"

    stranger = field.phone("dov")
    stranger.go("/phone")
    stranger.page.get_by_label("Bring in such a file").set_input_files(path)
    expect(stranger.page.get_by_role("alert")).to_contain_text("somebody else's")

    desk = field.phone("ben")
    desk.go("/phone")
    desk.page.get_by_label("Bring in such a file").set_input_files(path)
    expect(desk.page.get_by_text("1 taken in, 0 were here already.")).to_be_visible()
    expect(desk.unsent).to_have_text("1 not sent")
    desk.page.get_by_role("button", name="Send now").click()
    desk.sent()
    assert field.signed() == 1
    phone.find_network()
    phone.go("/phone")
    phone.sent()
    assert (field.signed(), len(field.taken())) == (1, 1)


def test_a_token_that_has_gone_stale_is_fetched_anew(field: Field) -> None:
    phone = set_up(field)
    phone.sign_away()
    stale = [True]

    def spoil(route: Route) -> None:
        if not stale:
            route.continue_()
            return
        stale.clear()
        route.continue_(headers={**route.request.headers, "x-csrftoken": "stale"})

    phone.page.route("**/api/lessons/*", spoil)
    phone.find_network()
    phone.sent()
    assert not stale
    assert field.signed() == 1


@pytest.mark.parametrize(
    ("hours", "words", "role"),
    [(25, "for a day", "status"), (73, "for 3 days", "alert")],
)
def test_words_that_wait_long_are_warned_of(
    field: Field, hours: int, words: str, role: str
) -> None:
    phone = set_up(field)
    phone.sign_away()
    phone.run(
        """const [row] = await db.all("letters");
           await db.put("letters", { ...row, since: Date.now() - given * 3600000 });""",
        hours,
    )
    phone.go("/phone")
    shown = phone.page.locator("[data-notice='age']")
    expect(shown).to_contain_text(words)
    expect(shown).to_have_attribute("role", role)


def test_a_new_version_waits_until_nobody_is_typing(
    field: Field, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone = set_up(field)
    changed = dict(assets.assets())
    words = changed["js/phone/worker.js"].content + b"\n// newer\n"
    changed["js/phone/worker.js"] = Asset("text/javascript", words, {})
    monkeypatch.setattr(assets, "assets", lambda: changed)
    monkeypatch.setattr(assets, "version", lambda: "newer")
    phone.go("/phone")
    notice = phone.page.locator("[data-new-version]")
    expect(notice).to_contain_text("A new version of Windtee is ready")
    other = Phone(phone.page.context.new_page(), field.address)
    other.go("/phone")
    expect(other.page.locator("[data-new-version]")).to_be_visible()
    typing = "pages.risk.asked = () => given;"
    other.run(typing, given=True)
    notice.get_by_role("button", name="Use it now").click()
    expect(notice).to_contain_text("Words are being typed on another page")
    other.run(typing, given=False)
    with phone.page.expect_navigation():
        notice.get_by_role("button", name="Use it now").click()
    expect(phone.page.locator("[data-check='Opens without a network']")).to_contain_text("yes")
    assert phone.page.evaluate("caches.keys().then((names) => names.length)") == 1


def test_on_plain_http_words_are_kept_and_the_page_says_what_is_missing(
    field: Field, browser: Browser
) -> None:
    field.school.app.config[HOSTS] = ("127.0.0.1", "school.test")
    port = field.address.rpartition(":")[2]
    lan = f"http://school.test:{port}"
    one = browser.browser_type.launch(
        executable_path="/usr/bin/chromium",
        args=[*FLAGS, "--host-resolver-rules=MAP school.test 127.0.0.1"],
    )
    phone = Phone(one.new_page(viewport=SMALL), lan)
    phone.sign_in()
    phone.go("/phone")
    expect(phone.page.locator("[data-check='Connection']")).to_contain_text("plain http")
    phone.go("/")
    phone.page.get_by_role("button", name="Grade S-01").click()
    phone.page.get_by_role("radio", name="Perform").first.click()
    expect(phone.status).to_contain_text(re.compile("Saved .* 1 of 3"))
    card = phone.page.url
    field.line.down = True
    phone.type_remark("words on plain http")
    expect(phone.status).to_contain_text("On this phone only, not yet saved · not sealed")
    field.line.down = False
    with phone.page.expect_response(lambda answer: answer.request.method == "POST"):
        phone.page.goto(card)
    expect(phone.page.get_by_label("Remarks", exact=True)).to_have_value("words on plain http")
    expect(phone.status).to_contain_text("Saved")
    [row] = field.records()
    one.close()
    assert row.card["remarks"] == "words on plain http"
