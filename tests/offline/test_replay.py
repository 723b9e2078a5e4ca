"""The same letter sent again: after a lost answer, many times, at once, by another hand."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta

from sqlalchemy import select
from werkzeug.test import TestResponse

from gradebook.records.commands import delivering, opening
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.deliveries import Delivery
from gradebook.records.tables.ledger import LedgerEntry
from tests.cast import TestSchool
from tests.phone_desk import Letter, Phone, changed, counts
from tests.story import MET, done

AGAIN = "Idempotent-Replay"


def test_a_letter_whose_answer_was_lost_gets_the_same_answer_again(
    either_phone: Phone,
) -> None:
    letter = either_phone.letter()
    lost = either_phone.send(letter, 201)
    written = counts(either_phone)
    either_phone.school.clock.pass_minutes(30)
    found = either_phone.send(letter, 201, If__Match='"9"', X__Age__Ms="1800000")
    assert (found.data, found.mimetype) == (lost.data, lost.mimetype)
    assert (lost.headers.get(AGAIN), found.headers.get(AGAIN)) == (None, "true")
    entries, records, events, letters = written
    assert counts(either_phone) == [entries, records, events + 1, letters]  # it is counted


def test_a_hundred_replays_are_one_row_and_one_place(phone: Phone) -> None:
    letter = phone.letter()
    answers = {phone.send(letter, 201).data for _ in range(100)}
    assert len(answers) == 1
    with phone.school.database.read() as session:
        assert len(session.scalars(select(Delivery)).all()) == 1
        signed = select(LedgerEntry).where(LedgerEntry.kind == "record.sign")
        assert len(session.scalars(signed).all()) == 1


def test_the_trail_counts_how_often_a_letter_came_again(either_phone: Phone) -> None:
    letter = either_phone.letter()
    for _ in range(4):
        either_phone.send(letter, 201)
    with either_phone.school.database.read() as session:
        rows = session.scalars(select(AuditEvent).order_by(AuditEvent.id))
        again = [row for row in rows if row.facts.get("delivered_again") == letter.key]
    assert [row.facts["times"] for row in again] == [1, 2, 3]
    assert {row.object_id for row in again} == {letter.record}


def test_six_at_once_with_one_key_are_one_write(either_phone: Phone) -> None:
    letter = either_phone.letter()
    twins = [Twin(either_phone) for _ in range(6)]
    with ThreadPoolExecutor(6) as pool:
        answers = list(pool.map(lambda twin: twin.send(letter), twins))
    assert {(one.status_code, one.data) for one in answers} == {(201, answers[0].data)}
    assert sum(one.headers.get(AGAIN) is None for one in answers) == 1
    with either_phone.school.database.read() as session:
        assert len(session.scalars(select(Delivery)).all()) == 1
        signed = select(LedgerEntry).where(LedgerEntry.kind == "record.sign")
        assert len(session.scalars(signed).all()) == 1


class Twin(Phone):
    """Another tab of the same phone: its cookies and its key, a connection of its own."""

    def __init__(self, of: Phone) -> None:
        self.__dict__.update(of.__dict__)
        self.client = of.school.app.test_client(use_cookies=False)
        self.client.environ_base["HTTP_ORIGIN"] = "http://localhost"
        held = [of.client.get_cookie(name) for name in ("windtee_session", "windtee_form")]
        cookies = "; ".join(f"{one.key}={one.value}" for one in held if one)
        self.client.environ_base["HTTP_COOKIE"] = cookies
        self.mine = {**of.headers(), "X-Author": of.person}

    def headers(self) -> dict[str, str]:
        """The headers it has from before, so that nothing but the letter is sent."""
        return self.mine

    def send(self, letter: Letter, status: int | None = None, **headers: str) -> TestResponse:
        """Deliver a letter."""
        return super().send(letter, status, **headers)


def test_a_key_is_good_for_one_letter_alone(either_phone: Phone) -> None:
    letter = either_phone.letter(signed=False)
    either_phone.send(letter, 201)
    written = counts(either_phone)
    other = changed(letter, card=MET.as_json())
    for one in (replace(other, key=letter.key), replace(letter, record="b" * 32)):
        told = either_phone.send(one, 422).json
        assert told["reason"] == "key-reused"
    assert counts(either_phone) == written


def test_one_key_of_two_people_marks_two_letters(phone: Phone) -> None:
    letter = phone.letter(signed=False)
    phone.send(letter, 201)
    dov = Phone(phone.school, "dov")
    theirs = dov.letter(signed=False, enrolment=phone.school.stranger_enrolment)
    answer = dov.send(replace(theirs, key=letter.key), 201)
    assert AGAIN not in answer.headers


def test_the_answer_is_kept_though_the_draft_is_thrown_away(phone: Phone) -> None:
    letter = phone.letter(signed=False)
    first = phone.send(letter, 201)
    done(phone.school, "ben", opening.discard_record, letter.record)
    assert phone.send(letter, 201).data == first.data


def test_what_was_refused_is_judged_anew(phone: Phone) -> None:
    """A refusal wrote nothing, so there is nothing to repeat."""
    letter = phone.letter()
    phone.send(replace(letter, version=3), 404)
    answer = phone.send(letter, 201)
    assert (answer.json["state"], answer.headers.get(AGAIN)) == ("signed", None)


def test_an_answer_is_remembered_for_half_a_year_and_three_months_at_least(
    either_school: TestSchool,
) -> None:
    phone = Phone(either_school)
    old = phone.letter(signed=False)
    phone.send(old, 201)
    assert timedelta(days=90) <= delivering.KEPT
    for days, number in ((90, 2), (90, 3), (1, 3)):
        either_school.clock.pass_days(days)
        later = Phone(either_school)
        later.send(later.letter(signed=False, lesson="s-02"), 201)
        with either_school.database.read() as session:
            assert len(session.scalars(select(Delivery)).all()) == number


def test_a_letter_sent_again_after_that_still_signs_nothing_twice(phone: Phone) -> None:
    letter = phone.letter()
    phone.send(letter, 201)
    phone.school.clock.pass_days(181)
    later = Phone(phone.school)
    later.send(later.letter(signed=False, lesson="s-02"), 201)
    assert later.send(letter, 412).json["state"] == "signed"
