"""What has to hold of a phone without a network, one function each; mutants must fail them."""

from datetime import timedelta
from time import monotonic

from playwright.sync_api import Page, expect

from tests.offline.field import WORDS, Field, Phone


def draft_survives(field: Field) -> None:
    """A card opened and typed on without a network is there after a reload without one."""
    phone = field.ready_phone()
    phone.lose_network()
    phone.open_from_pocket()
    phone.type_remark()
    expect(phone.status).to_contain_text("On this phone only")
    phone.page.reload()
    kept = phone.remarks()
    assert kept == WORDS, f"kept: {kept!r}"
    assert phone.page.evaluate("navigator.serviceWorker.controller !== null")


def arrives_once(field: Field) -> None:
    """Signed away from the network: queued, and entered once when there is one."""
    phone = field.ready_phone()
    before = field.line.deliveries()
    phone.sign_away()
    assert field.signed() == 0
    assert field.line.deliveries() == before
    phone.find_network()
    phone.sent()
    expect(phone.page.get_by_text("of the school's ledger")).to_be_visible()
    assert [(row.state, row.remarks) for row in field.records()] == [("signed", WORDS)]
    assert field.signed() == 1


def lost_answer(field: Field) -> None:
    """The school commits, the answer never arrives: the same letter again, one write."""
    phone = field.ready_phone()
    phone.sign_away()
    field.line.cuts = 1
    phone.find_network()
    expect(phone.page.get_by_text("Signed and queued")).to_be_visible()
    phone.go("/phone")
    phone.arrived()
    taken = [row.remarks for row in field.records()]
    assert taken == [WORDS], f"taken in: {taken}"
    assert (len(field.taken()), field.signed()) == (1, 1)


def two_tabs(field: Field) -> None:
    """Two pages of one phone find the network at once: one write."""
    phone = field.ready_phone()
    phone.sign_away()
    other = Phone(phone.page.context.new_page(), field.address)
    other.go("/phone")
    expect(other.unsent).to_have_text("1 not sent")
    phone.find_network()
    phone.sent()
    other.sent()
    assert (len(field.taken()), field.signed()) == (1, 1)


def waits_for_its_author(field: Field) -> None:
    """A session that died keeps the letter; somebody else cannot send it; the author does."""
    phone = field.ready_phone()
    phone.sign_away()
    phone.page.context.clear_cookies()
    phone.find_network()
    phone.go("/phone")
    expect(phone.page.get_by_text("Sign in again to send them")).to_be_visible()
    phone.sign_in("dov")
    expect(phone.page.get_by_text("1 card of somebody else waits")).to_be_visible()
    phone.go("/phone")
    expect(phone.page.get_by_text("Somebody else's cards wait here")).to_be_visible()
    sent = field.line.deliveries()
    assert sent == 0, f"sent as somebody else: {sent}"
    phone.page.context.clear_cookies()
    phone.sign_in("ben")
    phone.sent()
    assert (len(field.taken()), field.signed()) == (1, 1)


def changed_elsewhere(field: Field) -> None:
    """Saved elsewhere meanwhile: both versions are shown, and nothing is overwritten."""
    phone = field.phone()
    phone.page.get_by_role("button", name="Grade S-01").click()
    expect(phone.status).to_be_visible()
    card = phone.page.url.removeprefix(field.address)
    phone.set_up()
    other = field.phone()
    phone.lose_network()
    phone.go(card)
    phone.type_remark("mine, typed away")
    expect(phone.status).to_contain_text("On this phone only")
    other.go(card)
    other.type_remark("theirs, typed at the desk")
    expect(other.status).to_contain_text("Saved")
    phone.find_network()
    phone.go("/phone")
    shown = phone.page.locator("[data-letter='conflict']")
    expect(shown.or_(phone.all_sent)).to_be_attached()
    assert shown.count(), "overwritten without a word"
    expect(shown).to_contain_text("mine, typed away")
    expect(shown).to_contain_text("theirs, typed at the desk")
    assert remarks(field) == "theirs, typed at the desk"
    phone.page.get_by_role("button", name="Keep mine").click()
    phone.sent()
    assert remarks(field) == "mine, typed away"


def remarks(field: Field) -> str:
    """What the only record's card says."""
    [row] = field.records()
    found: str = row.card["remarks"]
    return found


def clock_ahead(field: Field) -> None:
    """A phone three days ahead of the school: the moment of signing is estimated right."""
    field.school.clock.at -= timedelta(days=3)
    phone = field.ready_phone()
    began = monotonic()
    phone.sign_away()
    phone.find_network()
    phone.sent()
    took = timedelta(seconds=monotonic() - began)
    [row] = field.taken()
    off = field.school.clock.at - row.estimated_at  # the school's clock stands still
    assert timedelta(0) <= off <= took, f"estimate off by {off} after {took}"
    assert row.client_time - row.received_at > timedelta(days=2.9)


def only_public_files_are_kept(page: Page) -> None:
    """Whether everything in the worker's caches is public: addresses alone decide."""
    kept = page.evaluate(
        """async () => {
          const names = await caches.keys();
          const keysOf = async (name) => (await caches.open(name)).keys();
          const rows = await Promise.all(names.map(keysOf));
          return rows.flat().map((one) => new URL(one.url).pathname);
        }"""
    )
    assert "/phone/shell" in kept
    personal = [one for one in kept if not one.startswith("/static/")]
    assert personal == ["/phone/shell"]
