"""The school has a card, and the phone never hears of it: no conflict with one's own words."""

from playwright.sync_api import expect

from tests.offline.checks import remarks
from tests.offline.field import Field, Phone

KEPT = "On this phone only, not yet saved"


def _half_heard(field: Field) -> Phone:
    """A card from the server whose first words arrived there; the phone does not know."""
    phone = field.ready_phone()
    phone.go("/")
    phone.page.get_by_role("button", name="Grade S-01").first.click()
    expect(phone.page.locator("form[data-followed][data-along]")).to_be_visible()
    field.line.cuts = 1
    phone.type_remark("half heard")
    expect(phone.status).to_contain_text(KEPT)
    assert remarks(field) == "half heard"
    return phone


def test_on_the_same_page_it_goes_on_from_there(field: Field) -> None:
    phone = _half_heard(field)
    phone.type_remark("half heard, and more")
    expect(phone.status).to_contain_text("Saved")
    expect(phone.status).not_to_contain_text("another tab")
    assert remarks(field) == "half heard, and more"


def test_a_page_opened_after_it_without_a_network_goes_on_from_there(field: Field) -> None:
    phone = _half_heard(field)
    phone.lose_network()
    phone.page.goto(phone.page.url)
    expect(phone.page.get_by_label("Remarks", exact=True)).to_have_value("half heard")
    phone.page.get_by_label("Registration").fill("KM-H1")
    expect(phone.status).to_contain_text(KEPT)
    phone.find_network()
    phone.sent()
    [row] = field.records()
    assert (row.card["remarks"], row.card["ident"]) == ("half heard", "KM-H1")


def test_what_somebody_else_saved_is_still_asked_about(field: Field) -> None:
    phone = _half_heard(field)
    phone.lose_network()  # or it would try again while the other types
    other = field.phone()
    other.go(phone.page.url.removeprefix(field.address))
    expect(other.page.locator("form[data-followed]")).to_be_visible()
    with other.page.expect_response(lambda told: told.request.method == "POST"):
        other.type_remark("from the desk")
    phone.type_remark("half heard, and more")
    phone.find_network()
    expect(phone.status).to_contain_text("Saved in another tab meanwhile")
    assert remarks(field) == "from the desk"
