"""What phones signed, read afterwards: the ledger, the rows by it, a copy in two verifiers."""

import base64
import json
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser
from sqlalchemy import select

from gradebook.cli import main
from gradebook.ledger import keys
from gradebook.ledger.bundle import fingerprint, verify_bundle
from gradebook.ledger.statements import read_statement
from gradebook.records.tables.ledger import LedgerEntry
from gradebook.records.tables.lessons import LessonRecord
from tests.copies.paper_trail import certify
from tests.ledger.test_two_verifiers import ASK, SITE, answer
from tests.phone_desk import Phone
from tests.records.rebuilding.behind import behind, empty, everything, of_table, proven, rebuilt
from tests.story import MET, opened, signed


def taught(phone: Phone) -> None:
    """One lesson signed on the phone, which is then ended, and one signed at the desk."""
    phone.send(phone.letter(), 201)
    phone.visitor.get("/account/phones")
    phone.visitor.post(f"/account/phones/{phone.kid}/revoke")
    signed(phone.school, "ben", opened(phone.school, "ben", "s-02"), MET)


def test_a_ledger_with_what_phones_signed_proves_whole(either_phone: Phone) -> None:
    taught(either_phone)
    assert proven(either_phone.school).findings == []


def test_the_command_verifies_it(
    phone: Phone, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    taught(phone)
    assert main(["verify", "--data", str(tmp_path)]) == 0
    assert "0" in capsys.readouterr().out


def test_a_statement_put_in_after_its_phone_was_ended_is_found(phone: Phone) -> None:
    phone.send(phone.letter(), 201)
    phone.visitor.get("/account/phones")
    phone.visitor.post(f"/account/phones/{phone.kid}/revoke")
    behind(phone.school, "UPDATE signing_key SET revoked_at = NULL")
    phone.send(phone.letter(lesson="s-02", card=MET), 201)
    found = proven(phone.school)
    assert (found.code, found.findings[0].words.split(": ")[1]) == (
        4,
        "signed by a revoked key.",
    )


def test_a_rebuild_puts_back_what_a_phone_signed(either_phone: Phone) -> None:
    """Of a record made anew nobody says when it was begun and how often it was saved."""
    taught(either_phone)
    school = either_phone.school
    before, records = everything(school), of_table(school, LessonRecord)
    empty(school)
    assert proven(school).code == 2
    assert rebuilt(school).proof.findings == []
    assert proven(school).findings == []
    for name, row in of_table(school, LessonRecord).items():
        once = dict.fromkeys(("created_at", "saved_at"), row["signed_at"]) | {"version": 1}
        assert row == {**records.pop(name), **once}
    assert records == {}
    after = everything(school)
    del before["lesson_record"], after["lesson_record"]
    assert after == before


@pytest.mark.parametrize("days", [-3, 3])
def test_a_moment_by_a_phones_clock_is_put_back_as_it_was_signed(
    phone: Phone, days: int
) -> None:
    phone.off = timedelta(days=days)
    phone.send(phone.letter(), 201)
    before = everything(phone.school)
    behind(phone.school, "UPDATE lesson_record SET signed_at = created_at")
    assert [one.words.rpartition(": ")[2] for one in proven(phone.school).findings] == [
        "signed_at."
    ]
    rebuilt(phone.school)
    assert everything(phone.school) == before


def test_both_verifiers_believe_a_copy_with_what_a_phone_signed(
    phone: Phone, browser: Browser
) -> None:
    taught(phone)
    data = certify(phone.school)
    file = json.loads(data)
    held = [read_statement(one["statement"]) for one in file["entries"]]
    assert [one.assurance for one in held if one.type == "record.sign"] == ["device", "secret"]
    assert [key["kid"] for key in file["keys"] if key["name"] == "Ben"] == [
        phone.school.keys["ben"].kid,
        phone.kid,
    ]
    trusted = fingerprint(file["vkey"])
    assert verify_bundle(data, trusted).code == 0
    context = browser.new_context()
    context.route("**/*", answer)
    page = context.new_page()
    page.goto(SITE)
    assert page.evaluate(ASK, [[base64.b64encode(data).decode()], trusted]) == [0]
    context.close()


def test_the_entry_holds_the_very_bytes_that_the_phone_signed(either_phone: Phone) -> None:
    letter = either_phone.letter()
    seal = json.loads(letter.data)["signed"]
    either_phone.send(letter, 201)
    with either_phone.school.database.read() as session:
        query = select(LedgerEntry).where(LedgerEntry.kind == "record.sign")
        row = session.scalars(query).one()
    assert row.statement == seal["text"]
    assert json.loads(row.entry)["sig"] == seal["sig"]
    public = keys.public_of(either_phone.seed)
    assert keys.verify_statement(public, row.statement.encode(), bytes.fromhex(seal["sig"]))
