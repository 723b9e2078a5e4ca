"""Two lessons of one student signed out of reach: the second builds on the first."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Route, expect
from sqlalchemy import select

from gradebook.records.tables.lessons import Grade
from tests.chromium import PATIENCE
from tests.offline.field import WORDS, Field, Phone, assert_met
from tests.story import opened


def sign_both_away(field: Field) -> Phone:
    """Ben signs S-01 with a task below its target, then S-02, both out of reach."""
    opened(field.school, "ben", "s-02")
    phone = field.ready_phone()
    phone.lose_network()
    page = phone.page
    phone.go("/")
    _open_away(phone, "First lesson")
    preflight = page.locator("[data-task=preflight]")
    preflight.get_by_role("radio", name="Explain").check()
    preflight.get_by_role("checkbox", name="Cover left on").focus()
    page.keyboard.press("Space")
    phone.fill_rest("first")
    page.get_by_role("radio", name="Repeat", exact=True).click()
    expect(phone.status).to_contain_text("On this phone only")
    phone.sign()
    expect(page.get_by_text("Signed and queued")).to_be_visible()
    phone.go("/")
    _open_away(phone, "Second lesson")
    carried = preflight.get_by_text("Carried over from First lesson")
    assert carried.is_visible(), "the first lesson is not built on"
    expect(preflight.locator(".chip-open")).to_contain_text("Cover left on")
    expect(preflight.locator(".notch-last")).to_have_count(1)
    phone.fill_rest("second")
    page.get_by_role("radio", name="Complete", exact=True).click()
    expect(phone.status).to_contain_text("On this phone only")
    phone.sign()
    expect(page.get_by_text("Signed and queued")).to_be_visible()
    expect(phone.unsent).to_have_text("2 not sent")
    return phone


def _open_away(phone: Phone, title: str) -> None:
    row = phone.page.get_by_role("listitem").filter(has_text=title)
    row.get_by_role("link", name="Grade S-0").click()
    expect(phone.page.locator("form[data-card]")).to_be_visible()


def arrive_both(field: Field) -> None:
    """Both arrive as they were signed."""
    phone = sign_both_away(field)
    assert field.signed() == 0
    phone.find_network()
    phone.sent()
    states = sorted((row.lesson, row.state) for row in field.records())
    assert states == [("s-01", "signed"), ("s-02", "signed")]
    with field.school.database.read() as session:
        carried = session.scalars(select(Grade.task).where(Grade.carried_from == "s-01")).all()
    assert carried == ["preflight"]
    assert (field.signed(), field.findings()) == (2, [])


def test_the_second_lesson_arrives_as_it_was_signed(field: Field) -> None:
    arrive_both(field)


def waits_for_the_first(field: Field) -> None:
    """The school is too busy for the first: the second is not tried before it."""
    phone = sign_both_away(field)
    busy = [True]

    def answer(route: Route) -> None:
        if busy:
            busy.clear()
            route.fulfill(status=500, json={"error": "Not now.", "reason": "torn"})
        else:
            route.continue_()

    phone.page.route("**/api/lessons/*", answer)
    phone.find_network()
    phone.arrived(2 * PATIENCE)  # tried again after a pause
    assert not busy
    assert field.signed() == 2


def test_the_second_lesson_waits_until_the_first_has_arrived(field: Field) -> None:
    waits_for_the_first(field)


def rests_when_asked(field: Field) -> None:
    """A school that asks for rest is left alone until then, whatever wakes the phone."""
    phone = field.ready_phone()
    phone.sign_away()
    asked = []

    def answer(route: Route) -> None:
        asked.append(route.request.url)
        headers = {"Retry-After": "600"}
        route.fulfill(
            status=429, json={"error": "Slow down.", "reason": "slow"}, headers=headers
        )

    phone.page.route("**/api/lessons/*", answer)
    phone.page.goto("about:blank")  # or it would send, and be left before the answer is read
    phone.find_network()
    phone.go("/phone")
    phone.page.get_by_role("button", name="Send now").click()
    expect(phone.page.get_by_text("The school is busy")).to_be_visible()
    assert len(asked) == 1, f"sent {len(asked)} times"
    phone.page.unroute("**/api/lessons/*")
    phone.run("""await db.put("facts", { name: "rest", until: Date.now() - 1 });""")
    phone.page.get_by_role("button", name="Send now").click()
    phone.sent()
    assert [row.remarks for row in field.records()] == [WORDS]


def test_a_school_that_asks_for_rest_is_left_alone(field: Field) -> None:
    rests_when_asked(field)


AT_ONCE = """
  const access = await outbox.token();
  const [{ record, enrolment, setting, card }] = await pocket.all(access.person.id);
  const lesson = setting.lesson.code;
  const draft = { person: access.person.id, record, enrolment, lesson, version: 0 };
  const post = (remarks) => letters.post(draft, { title: remarks, card: { ...card, remarks } });
  const first = await post("first");
  await letters.note(first.key, { tries: 1, made_at: first.made_at + given });
  await post("second");
"""


@pytest.mark.parametrize("ahead", [0, 3_600_000])
def test_words_go_in_the_order_they_were_typed_though_the_clock_was_set_back(
    field: Field, ahead: int
) -> None:
    phone = field.ready_phone()
    phone.run(AT_ONCE, ahead)
    phone.go("/phone")
    phone.sent()
    [row] = field.records()
    assert row.card["remarks"] == "second"


def test_a_card_signed_away_can_be_looked_at_after_it_arrived(field: Field) -> None:
    phone = sign_both_away(field)
    phone.find_network()
    phone.sent()
    [first] = [row for row in field.records() if row.lesson == "s-01"]
    phone.lose_network()
    phone.go(f"/lessons/{first.id}")
    expect(phone.page.get_by_text("of the school's ledger")).to_be_visible()
    phone.go("/")
    expect(phone.page.get_by_text("None was taken along")).to_be_visible()


PLANTED = {
    "the first is not applied": (
        ("phone/past.js", "if (!after.length) return card;", "if (after) return card;"),
        arrive_both,
        "not built on",
    ),
    "the second is not held back": (
        ("phone/outbox.js", "Boolean(letter.after?.length) && ", "false && "),
        waits_for_the_first,
        "could not take it",
    ),
    "rest is not kept": (
        ("phone/outbox.js", "return left > 0 &&", "return left < 0 &&"),
        rests_when_asked,
        "sent . times",
    ),
}


@pytest.mark.parametrize("name", PLANTED)
def test_a_fault_in_a_script_is_met(browser: Browser, tmp_path: Path, name: str) -> None:
    assert_met(browser, tmp_path, *PLANTED[name])
