"""Letters of a phone's outbox that are taken, and what the school keeps of them."""

import json
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import func, select

from gradebook.records.commands import opening
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.deliveries import Delivery
from gradebook.records.tables.ledger import LedgerEntry
from tests.phone_desk import Letter, Phone, counts, record
from tests.story import FLOWN, MET, done, opened, signed


def test_a_draft_begun_on_a_phone_is_opened_under_its_own_name(
    either_phone: Phone,
) -> None:
    phone = either_phone
    letter = phone.letter(signed=False)
    told = phone.send(letter, 201).json
    assert told == {
        "record": letter.record,
        "version": 2,
        "state": "draft",
        "saved": "10:00 WEST",
        "receipt": None,
    }
    kept = record(phone, letter.record)
    assert kept is not None
    assert (kept.state, kept.instructor_id, kept.attempt) == ("draft", phone.person, 1)
    assert opening.card_of(kept) == FLOWN
    assert letter.record in [one["record"] for one in phone.pocket()["cards"]]


def test_a_draft_saved_again_rises_by_one_version(either_phone: Phone) -> None:
    phone = either_phone
    letter = phone.letter(signed=False)
    version = phone.send(letter, 201).json["version"]
    again = phone.letter(letter.record, card=MET, version=version, signed=False)
    assert phone.send(again, 200).json["version"] == version + 1
    kept = record(phone, letter.record)
    assert kept is not None
    assert opening.card_of(kept).flown_on == MET.flown_on


def test_a_card_signed_on_a_phone_is_saved_and_entered_at_once(either_phone: Phone) -> None:
    phone = either_phone
    letter = phone.letter()
    told = phone.send(letter, 201).json
    kept = record(phone, letter.record)
    assert kept is not None
    assert told["state"] == kept.state == "signed"
    receipt = told["receipt"]
    assert (receipt["seq"], receipt["statement"]) == (kept.sequence, kept.digest)
    assert receipt["url"] == f"/records/{letter.record}/receipt"
    proof = json.loads(phone.visitor.get(receipt["url"]))
    assert json.loads(proof["entry"])["kid"] == phone.kid
    page = phone.visitor.get(f"/records/{letter.record}")
    assert "Unaltered since it was signed." in page
    assert "signed on a phone, with the key it holds" in page
    assert "Signed on Ben&#39;s phone by its own clock" in " ".join(page.split())


def test_a_receipt_holds_the_size_and_root_that_its_proof_leads_to(phone: Phone) -> None:
    receipt = phone.send(phone.letter(), 201).json["receipt"]
    with phone.school.database.read() as session:
        newest = session.scalar(select(func.max(LedgerEntry.seq)))
    assert receipt["size"] == newest == receipt["seq"]
    assert len(bytes.fromhex(receipt["root"])) == 32


def test_a_draft_open_at_the_desk_can_be_signed_on_the_phone(phone: Phone) -> None:
    draft = opened(phone.school, "ben", "s-01")
    packed = {one["record"]: one for one in phone.pocket()["cards"]}[draft.id]
    letter = phone.letter(draft.id, version=packed["version"])
    assert phone.send(letter, 200).json["state"] == "signed"


def test_both_versions_come_back_when_the_card_was_saved_elsewhere(either_phone: Phone) -> None:
    phone = either_phone
    draft = opened(phone.school, "ben", "s-01")
    done(phone.school, "ben", opening.save_card, opening.SaveCard(draft.id, 1, MET))
    before = counts(phone)
    told = phone.send(phone.letter(draft.id, version=1), 412).json
    assert (told["version"], told["state"]) == (2, "draft")
    assert told["theirs"]["remarks"] == MET.remarks
    differing = {one["where"]: (one["mine"], one["theirs"]) for one in told["differences"]}
    assert ("2026-05-18", "2026-05-19") in differing.values()
    assert counts(phone) == before


def test_a_card_signed_elsewhere_meanwhile_is_told_with_what_was_signed(phone: Phone) -> None:
    draft = opened(phone.school, "ben", "s-01")
    letter = phone.letter(draft.id, version=1)
    signed(phone.school, "ben", draft, FLOWN)
    told = phone.send(letter, 412).json
    assert (told["state"], told["differences"]) == ("signed", [])


def test_a_card_thrown_away_meanwhile_can_be_begun_anew(phone: Phone) -> None:
    draft = opened(phone.school, "ben", "s-01")
    done(phone.school, "ben", opening.discard_record, draft.id)
    letter = phone.letter(draft.id, version=1, signed=False)
    assert phone.send(letter, 404).json["reason"] == "unknown"
    again = Letter(draft.id, 0, letter.data)
    assert phone.send(again, 201).json["state"] == "draft"


def test_the_school_keeps_both_clocks_and_flags_one_that_is_off(either_phone: Phone) -> None:
    phone = either_phone
    phone.off = timedelta(days=3)
    letter = replace(phone.letter(), age=90_000)
    phone.send(letter, 201)
    with phone.school.database.read() as session:
        row = session.scalars(select(Delivery)).one()
        noted = session.scalars(select(AuditEvent).order_by(AuditEvent.id.desc())).first()
    assert noted is not None
    told = phone.school.clock.at - timedelta(seconds=90)
    assert abs(row.estimated_at - told) < timedelta(seconds=5)
    assert row.client_time == phone.school.clock.at + timedelta(days=3)
    assert row.received_at == phone.school.clock.at
    assert (noted.facts["clock_off"], noted.facts["clock_off_seconds"]) == (True, 259_290)
    page = " ".join(phone.visitor.get(f"/records/{letter.record}").split())
    assert "That clock was 3 days ahead." in page
    assert "it was written 20 May 2026, 09:58 WEST" in page


@pytest.mark.parametrize(("seconds", "flagged"), [(300, False), (301, True), (-301, True)])
def test_five_minutes_are_let_pass(phone: Phone, seconds: int, flagged: bool) -> None:
    phone.off = timedelta(seconds=seconds)
    letter = phone.letter()
    phone.send(letter, 201)
    page = phone.visitor.get(f"/records/{letter.record}")
    assert ("That clock was" in page) is flagged


def test_an_answer_from_the_browser_that_signed_is_flagged(phone: Phone) -> None:
    first = phone.letter()
    phone.send(first, 201)
    second = phone.letter(lesson="s-02", card=MET)
    phone.send(second, 201)
    here = phone.visitor
    here.get(f"/records/{first.record}/acknowledge-here")
    secret = {"answer": "agree", "secret": "a sentence for the tests"}
    page = here.send(f"/records/{first.record}/acknowledge-here", secret).text
    assert "Acknowledged in the browser it was signed in." in page
    ana = phone.school.visitor("ana")
    ana.get(f"/records/{second.record}")
    page = ana.send(f"/records/{second.record}/acknowledge", secret).text
    assert "Acknowledged in the browser" not in page
