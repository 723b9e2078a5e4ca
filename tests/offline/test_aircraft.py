"""Another aircraft type chosen on a card: other readings, and nothing typed is lost."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Route, expect

from tests.offline.field import Field, Phone, opened_field
from tests.small_course import two_types

LAYING = """
  const { layReadings } = await import(given);
  const [card] = await pocket.all(await db.whose());
  const page = new DOMParser().parseFromString(card.html, "text/html");
  const form = page.querySelector("form");
  const found = () => ["#readings", ".jumps"].map((one) => {
    const part = form.querySelector(one).closest("section, nav").cloneNode(true);
    return part.outerHTML.replace(/\\s+/g, " ").replaceAll(/ (?=[<>])|(?<=>) /g, "");
  });
  const one = / [\\w-]+(?:="[^"]*")?/g;
  const sorted = (_, tag, all) => `<${tag}${all.match(one)?.sort().join("") ?? ""}`;
  const words = (html) =>
    html.map((part) => part.replaceAll(/<(\\w+)((?: [\\w-]+(?:="[^"]*")?)*)/g, sorted));
  const before = words(found());
  layReadings(form, card.setting, card.card);
  return [before, words(found())];
"""


@pytest.fixture
def field(tmp_path: Path, browser: Browser) -> Iterator[Field]:
    """A served school whose course knows two aircraft types."""
    with opened_field(tmp_path, browser, files=two_types()) as found:
        yield found


def away(field: Field) -> Phone:
    """A card open out of reach."""
    phone = field.ready_phone()
    phone.lose_network()
    phone.open_from_pocket()
    return phone


def changes_its_readings(field: Field) -> None:
    """The readings of the type chosen, the shared one as typed, the others kept unseen."""
    phone = away(field)
    page = phone.page
    page.get_by_label("Left magneto drop").fill("140")
    page.get_by_label("Right magneto drop").fill("165")
    page.get_by_label("Aircraft type").select_option("Second type")
    assert not page.get_by_label("Right magneto drop").count(), "its reading is still there"
    expect(page.get_by_label("Left magneto drop")).to_have_value("140")
    expect(page.locator("[data-reading=left-drop]")).to_contain_text("outside the limit")
    page.get_by_label("Oil temperature").fill("60")
    page.get_by_label("Controls free").select_option("yes")
    expect(page.locator("[data-reading=oil]")).to_contain_text("40 to 95.5 °C")
    expect(page.locator("[data-reading=oil]")).to_contain_text("within the limit")
    page.get_by_label("Aircraft type").select_option("Invented type")
    assert page.get_by_label("Right magneto drop").input_value() == "165", "typed, and gone"
    page.get_by_label("Aircraft type").select_option("Second type")
    expect(page.get_by_label("Oil temperature")).to_have_value("60")
    expect(phone.status).to_contain_text("On this phone only")
    page.reload()
    expect(page.get_by_label("Oil temperature")).to_have_value("60")
    expect(page.get_by_label("Right magneto drop")).to_have_count(0)
    phone.fill_card()
    expect(phone.status).to_contain_text("On this phone only")
    phone.sign()
    expect(page.get_by_text("Signed and queued")).to_be_visible()
    phone.find_network()
    phone.sent()
    [row] = field.records()
    assert row.card["readings"] == {
        "left-drop": "140",
        "right-drop": "165",
        "oil": "60",
        "free": "yes",
    }
    assert (row.aircraft, field.signed(), field.findings()) == ("second KM-H1", 1, [])


def test_another_type_has_other_readings_out_of_reach(field: Field) -> None:
    changes_its_readings(field)


def test_the_review_out_of_reach_names_the_limits_of_readings(field: Field) -> None:
    phone = away(field)
    page = phone.page
    page.get_by_label("Aircraft type").select_option("Second type")
    page.get_by_label("Left magneto drop").fill("140")
    page.get_by_label("Oil temperature").fill("60")
    phone.fill_card()
    page.get_by_role("button", name="Review").click()
    within = page.get_by_text("Oil temperature: 60 °C within limits 40 to 95.5 °C")
    expect(within).to_be_visible()


def test_without_a_type_there_are_no_readings_and_no_flow_run(field: Field) -> None:
    page = away(field).page
    page.get_by_label("Aircraft type").select_option("")
    expect(page.get_by_role("heading", name="Readings")).to_have_count(0)
    expect(page.get_by_role("button", name="Flow run")).to_be_hidden()


def test_readings_are_laid_as_the_school_lays_them(field: Field) -> None:
    phone = field.ready_phone()
    script = phone.page.evaluate(
        "document.querySelector('script[src*=page]').src.replace('page.js', 'readings.js')"
    )
    before, after = phone.run(LAYING, script)
    assert after == before


def test_with_a_network_another_type_has_other_readings_too(field: Field) -> None:
    phone = field.phone()
    page = phone.page
    page.get_by_role("button", name="Grade S-01").click()
    phone.followed()
    page.get_by_label("Right magneto drop").fill("165")
    expect(phone.status).to_contain_text("Saved")
    with page.expect_navigation():
        page.get_by_label("Aircraft type").select_option("Second type")
    oil = page.get_by_label("Oil temperature")
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        oil.fill("60")
    [row] = field.records()
    assert row.card["readings"] == {"right-drop": "165", "oil": "60"}


def test_a_type_chosen_before_the_script_has_come_has_its_readings_too(field: Field) -> None:
    page, late = field.phone(service_workers="block").page, list[Route]()
    page.route("**/js/card.js", lambda route: late.append(route), times=1)
    with page.expect_request("**/js/card.js"):
        page.get_by_role("button", name="Grade S-01").click()
    page.get_by_label("Aircraft type").select_option("Second type")
    with page.expect_navigation():
        late[0].continue_()
    expect(page.get_by_label("Oil temperature")).to_be_visible()
    expect(page.get_by_label("Aircraft type")).to_have_value("second")


def test_without_script_the_words_for_another_type_are_kept(field: Field) -> None:
    phone = field.phone(java_script_enabled=False)
    page = phone.page
    page.get_by_role("button", name="Grade S-01").click()
    page.get_by_label("Right magneto drop").fill("165")
    page.get_by_label("Aircraft type").select_option("Second type")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_label("Oil temperature").fill("60")
    with page.expect_navigation():
        page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_label("Oil temperature")).to_have_value("60")
    expect(page.get_by_text("is not read on this aircraft")).to_have_count(0)
    [row] = field.records()
    assert row.card["readings"] == {"right-drop": "165", "oil": "60"}


PLANTED = {
    "words for another type are dropped": (
        ("card/fields.js", "...elsewhere(form, before.readings ?? {}), ", ""),
        "typed, and gone",
    ),
    "readings stay as they were": (
        ("phone/carding.js", "layReadings(made, settingOf(pocketed), card);", ""),
        "still there",
    ),
    "another type's readings stand in the way": (
        ("rules/check.js", "if (!reading && setting", "if (false && setting"),
        "the review asks for more",
    ),
}


@pytest.mark.parametrize("name", PLANTED)
def test_a_fault_in_a_script_is_met(browser: Browser, tmp_path: Path, name: str) -> None:
    planted, words = PLANTED[name]
    with (
        opened_field(tmp_path, browser, planted, two_types()) as field,
        pytest.raises(AssertionError, match=words),
    ):
        changes_its_readings(field)
