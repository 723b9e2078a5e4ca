"""The checks of an offline phone, each on a school and a browser of its own."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.offline import checks
from tests.offline.field import WORDS, Field, KillableBrowser, Phone


@pytest.mark.parametrize(
    "check",
    [
        checks.draft_survives,
        checks.arrives_once,
        checks.lost_answer,
        checks.two_tabs,
        checks.waits_for_its_author,
        checks.changed_elsewhere,
        checks.clock_ahead,
    ],
    ids=lambda check: check.__name__,
)
def test_on_a_phone_without_a_network(check: Callable[[Field], None], field: Field) -> None:
    check(field)


def test_a_server_that_is_away_is_not_called_a_missing_network(field: Field) -> None:
    phone = field.ready_phone()
    field.line.down = True
    phone.go("/")
    heading = phone.page.get_by_role("heading", level=1)
    expect(heading).to_have_text("The school does not answer")
    expect(phone.page.get_by_role("link", name="Try the server again")).to_be_visible()
    phone.lose_network()
    phone.page.reload()
    expect(heading).to_have_text("No network")


def test_out_of_reach_means_no_request_at_all(field: Field) -> None:
    phone = field.ready_phone()
    phone.page.wait_for_load_state("networkidle")  # what it had asked for has come
    phone.lose_network()
    before = len(field.line.seen)
    phone.go("/")
    expect(phone.page.get_by_role("heading", name="No network")).to_be_visible()
    phone.open_from_pocket()
    phone.type_remark()
    expect(phone.status).to_contain_text("On this phone only")
    browsers_own = "GET /sw.js"  # a look for a newer worker, which no emulation holds back
    assert [one for one in field.line.seen[before:] if one != browsers_own] == []
    checks.only_public_files_are_kept(phone.page)


def test_six_requests_with_one_key_are_one_write(field: Field) -> None:
    phone = field.ready_phone()
    answers = phone.run(SIX)
    assert answers["statuses"] == [201] * 6
    assert answers["replays"] == 5
    assert answers["same"] == 1
    assert answers["other"] == 422
    assert len(field.taken()) == 1


SIX = """
  const access = await outbox.token();
  const [{ record, enrolment, setting, card }] = await pocket.all(access.person.id);
  const body = letters.bodyOf({ enrolment, lesson: setting.lesson.code, card }, Date.now());
  const headers = {
    "Content-Type": "application/json", "Idempotency-Key": letters.newKey(), "If-Match": '"0"',
    "X-Age-Ms": "0", "X-Author": access.person.id, "X-CSRFToken": access.csrf,
  };
  const address = `/api/lessons/${record}`;
  const send = (text) => fetch(address, { method: "PUT", headers, body: text });
  const answers = await Promise.all(Array.from({ length: 6 }, () => send(body)));
  const texts = new Set(await Promise.all(answers.map((one) => one.text())));
  const other = await send(body.replace('"remarks":""', '"remarks":"other"'));
  return {
    statuses: answers.map((one) => one.status),
    replays: answers.filter((one) => one.headers.get("Idempotent-Replay") === "true").length,
    same: texts.size,
    other: other.status,
  };
"""


def test_a_browser_killed_after_queued_has_lost_nothing(
    field: Field, browser: Browser, tmp_path: Path
) -> None:
    killable = KillableBrowser(browser, tmp_path / "profile")
    killable.phone(field.address)
    killable.close()
    field.line.down = True
    phone = Phone(killable.open(), field.address)
    phone.sign_away(unplug=False)
    for _ in range(6):
        killable.kill()
        phone = Phone(killable.open(), field.address)
        phone.go("/phone")
        expect(phone.page.locator("[data-letter='waiting']")).to_contain_text("signed")
    field.line.down = False
    phone.sign_in()
    phone.sent()
    killable.close()
    assert [row.remarks for row in field.records()] == [WORDS]
    assert field.signed() == 1


def test_the_whole_job_without_a_network_and_killed_twice(
    field: Field, browser: Browser, tmp_path: Path
) -> None:
    killable = KillableBrowser(browser, tmp_path / "profile")
    phone = killable.phone(field.address)
    field.line.down = True
    phone.open_from_pocket()
    card = phone.page.url.removeprefix(field.address)
    phone.fill_card("first words")
    phone.page.get_by_label("Left magneto drop").fill("140")
    expect(phone.status).to_contain_text("On this phone only")
    killable.kill()

    phone = Phone(killable.open(), field.address)
    phone.go(card)
    expect(phone.page.get_by_label("Remarks", exact=True)).to_have_value("first words")
    phone.type_remark()
    phone.page.get_by_label("Right magneto drop").fill("165")
    expect(phone.status).to_contain_text("On this phone only")
    killable.kill()

    phone = Phone(killable.open(), field.address)
    phone.go(card)
    phone.sign()
    expect(phone.page.get_by_text("Signed and queued")).to_be_visible()
    field.line.down = False
    phone.sign_in()
    phone.sent()
    killable.close()
    everything_arrived(field)


def everything_arrived(field: Field) -> None:
    """Every word that was typed, once; and the ledger proves."""
    [row] = field.records()
    assert (row.state, row.remarks) == ("signed", WORDS)
    assert row.card["remarks"] == WORDS
    assert row.card["readings"] == {"left-drop": "140", "right-drop": "165"}
    assert row.card["times"] == {"dual": "1.2"}
    assert row.card["ident"] == "KM-H1"
    levels = {one["task"]: one["level"] for one in row.card["entries"]}
    assert levels == {"preflight": "perform", "run-up": "practice", "hover": "explain"}
    assert (len(field.taken()), field.signed()) == (1, 1)
    assert field.findings() == []
