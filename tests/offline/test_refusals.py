"""Letters of a phone's outbox that are not taken, and in which words."""

import json
from dataclasses import replace
from typing import Any

import pytest

from gradebook.ledger import keys
from gradebook.ledger.canonical import canonical
from gradebook.ledger.statements import read_statement
from gradebook.records.card import Card, Entry
from tests.phone_desk import Letter, Phone, changed, counts, record
from tests.story import FLOWN, MET, opened, signed


@pytest.mark.parametrize("version", [0, 1, 7])
def test_an_id_that_is_something_else_is_answered_as_one_nobody_has(
    phone: Phone, version: int
) -> None:
    theirs = opened(phone.school, "dov", "s-01", phone.school.stranger_enrolment)
    mine = opened(phone.school, "ben", "s-02")
    for name in (theirs.id, mine.id):
        letter = phone.letter(signed=False)
        told = phone.send(Letter(name, version, letter.data), 404).json
        assert told["reason"] == "unknown"


@pytest.mark.parametrize("enrolment", ["stranger_enrolment", ""])
def test_nothing_is_begun_for_a_student_of_somebody_else(phone: Phone, enrolment: str) -> None:
    whose = getattr(phone.school, enrolment) if enrolment else "0" * 32
    letter = changed(phone.letter(signed=False), enrolment=whose)
    assert phone.send(letter, 404).json == {
        "error": "Not Found",
        "reason": "unknown",
    }


def test_words_of_somebody_else_are_not_sent_under_this_name(either_phone: Phone) -> None:
    phone = either_phone
    letter = phone.letter()
    for author in ("", phone.school.ids["cleo"]):
        assert phone.send(letter, 403, X__Author=author).json["reason"] == "author"
    cleo = Phone(phone.school, "cleo", phone.seed)
    assert cleo.send(letter, 403).json["reason"] == "phone-unknown"
    assert record(phone, letter.record) is None


def test_a_phone_that_was_ended_delivers_nothing_signed(either_phone: Phone) -> None:
    phone = either_phone
    before = phone.letter()
    phone.send(before, 201)
    late = phone.letter(lesson="s-02", card=MET)
    phone.visitor.get("/account/phones")
    phone.visitor.post(f"/account/phones/{phone.kid}/revoke")
    told = phone.send(late, 403).json
    assert told["reason"] == "phone-revoked"
    assert "Ben's phone was ended" in told["error"]
    assert record(phone, late.record) is None
    phone.send(before, 201)


def test_a_key_that_is_no_phones_signs_nothing_here(phone: Phone) -> None:
    letter = phone.letter()
    seal = json.loads(letter.data)["signed"]
    own = phone.school.keys["ben"]
    sig = keys.sign_statement(own.seed, seal["text"].encode()).hex()
    for kid in (own.kid, "0" * 32):
        sent = changed(letter, signed={**seal, "kid": kid, "sig": sig})
        assert phone.send(sent, 403).json["reason"] == "phone-unknown"


def test_what_changed_after_the_signature_is_named(
    either_phone: Phone,
) -> None:
    phone = either_phone
    letter = phone.letter()
    signed(phone.school, "ben", opened(phone.school, "ben", "s-01"), FLOWN)
    before = counts(phone)
    told = phone.send(letter, 409).json
    assert told["reason"] == "changed"
    assert "Attempt: signed 1, now 2." in [one["words"] for one in told["problems"]]
    assert counts(phone) == before
    assert record(phone, letter.record) is None


ALIEN: dict[str, dict[str, Any]] = {
    "another card": {"body": {"card": {**FLOWN.as_json(), "remarks": "Something else."}}},
    "another student's": {"subject": "0" * 32},
    "another kind": {"type": "record.void"},
    "another author": {"actor": "0" * 32},
    "another zone": {"tz": "Asia/Tokyo"},
    "a signature with the secret": {"assurance": "secret+code"},
}


def test_a_statement_that_says_something_else_is_never_entered(phone: Phone) -> None:
    said = phone.body("f" * 32, phone.school.enrolment, "s-01", FLOWN)
    draft, before = phone.letter("f" * 32, signed=False), counts(phone)
    for name, fields in ALIEN.items():
        body = {**said.body, **fields.get("body", {})}
        seal = phone.sign(replace(said, **{**fields, "body": body}))
        told = phone.send(changed(draft, signed=seal), 409).json
        assert (told["reason"], bool(told["problems"])) == ("changed", True), name
    assert counts(phone) == before


def test_a_grade_raised_after_the_signature_is_named(phone: Phone) -> None:
    letter = phone.letter()
    entries = tuple(replace(one, level="perform") for one in FLOWN.entries)
    better = replace(FLOWN, entries=entries).as_json()
    told = phone.send(changed(letter, card=better), 409).json
    assert any("level explain" in one["words"] for one in told["problems"])


def test_a_signature_that_does_not_hold_is_invalid(phone: Phone) -> None:
    letter = phone.letter()
    for seal, words in (
        ({"sig": "00" * 64}, "The signature is not right."),
        ({"text": "{}"}, "What was signed cannot be read"),
        ({"text": '{"b":1,"a":2}'}, "What was signed cannot be read"),
    ):
        sent = {**json.loads(letter.data)["signed"], **seal}
        told = phone.send(changed(letter, signed=sent), 422).json
        assert (told["reason"], told["problems"][0]["field"]) == ("invalid", "signed")
        assert words in told["problems"][0]["words"]


@pytest.mark.parametrize(
    ("moment", "words"),
    [
        ("2026-02-30T09:00:00Z", "cannot be read"),
        ("0000-01-01T09:00:00Z", "cannot be read"),
        ("0001-01-01T00:00:00Z", "clock cannot be right"),
        ("9999-12-31T23:59:59Z", "clock cannot be right"),
    ],
)
def test_a_moment_that_no_page_could_show_is_not_signed_into_the_ledger(
    phone: Phone, moment: str, words: str
) -> None:
    letter = phone.letter()
    said = read_statement(json.loads(letter.data)["signed"]["text"])
    text = replace(said, claimed_at=moment).text()
    sig = keys.sign_statement(phone.seed, text).hex()
    seal = {"text": text.decode(), "sig": sig, "kid": phone.kid}
    told = phone.send(changed(letter, signed=seal), 422).json
    assert words in told["problems"][0]["words"]
    assert record(phone, letter.record) is None


def test_one_statement_cannot_sign_two_records(phone: Phone) -> None:
    """The body names its record; the same words under another id are another statement."""
    letter = phone.letter()
    phone.send(letter, 201)
    again = Letter("e" * 32, 0, letter.data)
    assert phone.send(again, 422).json["problems"][0]["words"].startswith("This statement")


def test_an_unfinished_card_is_kept_as_a_draft_but_not_signed(phone: Phone) -> None:
    bare = Card(flown_on="2026-05-18", entries=(Entry("hover", "explain"),))
    seal = {"text": canonical({}).decode(), "sig": "00" * 64, "kid": phone.kid}
    draft = phone.letter(card=bare, signed=False)
    phone.send(draft, 201)
    told = phone.send(changed(Letter("d" * 32, 0, draft.data), signed=seal), 422).json
    assert told["reason"] == "invalid"
    assert record(phone, "d" * 32) is None


BAD = {
    "no key": {"Idempotency__Key": ""},
    "a key that is none": {"Idempotency__Key": "once"},
    "no version": {"If__Match": ""},
    "a version that is none": {"If__Match": '"new"'},
    "no age": {"X__Age__Ms": ""},
    "an age below nothing": {"X__Age__Ms": "-1"},
}


def test_a_header_that_cannot_be_is_named(phone: Phone) -> None:
    for name, header in BAD.items():
        told = phone.send(phone.letter(signed=False), 422, **header).json
        field = next(iter(header)).replace("__", "-")
        assert (told["reason"], told["problems"][0]["field"]) == ("invalid", field), name


SHAPES: list[dict[str, Any]] = [
    {"card": []},
    {"card": {**FLOWN.as_json(), "grade": "perform"}},
    {"card": {**FLOWN.as_json(), "times": {"dual": 1}}},
    {"card": {**FLOWN.as_json(), "steps": [{"item": "x", "how": "maybe"}]}},
    {"card": {**FLOWN.as_json(), "remarks": "nul \0"}},
    {"client_time": "yesterday"},
    {"client_time": "2026-02-30T00:00:00Z"},
    {"enrolment": 7},
    {"actor": "flo"},
    {"signed": {"text": ""}},
]


def test_a_letter_of_another_shape_is_refused_whole(phone: Phone) -> None:
    letter = phone.letter(signed=False)
    before = counts(phone)
    for fields in SHAPES:
        assert phone.send(changed(letter, **fields), 422).json["reason"] == "invalid", fields
    assert counts(phone) == before


def test_what_is_no_letter_at_all_is_invalid(phone: Phone) -> None:
    for data in (b"", b"[]", b"{", b'{"a":1,"a":2}', b"\xff", b'{"n":1.5}'):
        assert phone.send(Letter("a" * 32, 0, data), 422).json["reason"] == "invalid", data


def test_a_session_that_is_over_is_told_before_anything_else(phone: Phone) -> None:
    """Before a stale token, too: another one would be asked for in vain."""
    letter = phone.letter()
    phone.school.clock.pass_minutes(61)
    for token in ("stale", ""):
        answer = phone.client.put(
            f"/api/lessons/{letter.record}",
            data=letter.data,
            headers={"X-CSRFToken": token, "X-Author": "x"},
        )
        assert (answer.status_code, answer.is_json) == (401, True)
        assert "Location" not in answer.headers


def test_a_letter_without_a_token_of_ours_is_not_taken(phone: Phone) -> None:
    letter = phone.letter()
    answer = phone.send(letter, 400, X__CSRFToken="stale")
    assert (answer.is_json, record(phone, letter.record)) == (True, None)
    foreign = phone.send(letter, 403, Origin="https://elsewhere.example")
    assert (foreign.is_json, record(phone, letter.record)) == (True, None)


def test_too_many_signatures_at_once_wait_and_say_how_long(phone: Phone) -> None:
    letter = phone.letter()
    for number in range(10):
        phone.send(letter, 201)
        letter = phone.letter(card=replace(FLOWN, remarks=f"{number}"))
    answer = phone.send(letter, 429)
    assert (answer.json["reason"], answer.headers["Retry-After"]) == ("slow", "30")
    phone.school.clock.pass_minutes(6)
    phone.send(letter, 201)
