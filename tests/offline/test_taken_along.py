"""What a phone takes along in its pocket."""

from gradebook.records.commands import answering, checks
from tests.cast import TestSchool
from tests.phone_desk import Phone, record
from tests.story import done, opened, tell


def test_the_pocket_holds_open_cards_and_the_next_one_of_each_student(phone: Phone) -> None:
    draft = opened(phone.school, "ben", "s-02")
    pocket = phone.pocket()
    assert pocket["person"] == {"id": phone.person, "name": "Ben"}
    assert pocket["school"]["zone"] == "Europe/Lisbon"
    held = {one["title"]: one for one in pocket["cards"]}
    kept, blank = held["Second lesson"], held["First lesson"]
    assert (kept["record"], kept["version"], blank["version"]) == (draft.id, 1, 0)
    assert record(phone, blank["record"]) is None
    for one in (kept, blank):
        assert one["student"]["name"] == "Ana"
        assert f'data-card="{one["record"]}"' in one["html"]
        assert "csrf" not in one["html"]
        assert one["body"]["record"] == one["record"]


def test_the_pocket_holds_no_card_of_anybody_elses_student(school: TestSchool) -> None:
    tell(school)
    names = {one["student"]["name"] for one in Phone(school).pocket()["cards"]}
    assert "Ana" in names
    dov = Phone(school, "dov").pocket()["cards"]
    assert dov == []


def test_a_check_instructor_takes_the_check_along_that_was_assigned(phone: Phone) -> None:
    school = phone.school
    eve = Phone(school, "eve")
    assert eve.pocket()["cards"] == []
    early = checks.Recommend(school.enrolment, "stage-1", "Booked for tomorrow.")
    asked = done(school, "ben", checks.recommend, early)
    wanted = checks.Approve(school.enrolment, asked.id, school.ids["eve"], "Wants to go on.")
    done(school, "cleo", checks.approve, wanted)
    (held,) = eve.pocket()["cards"]
    assert (held["title"], held["body"]["check"]) == ("First stage check", asked.id)
    assert "First stage check" not in [one["title"] for one in phone.pocket()["cards"]]


def test_the_pocket_names_the_text_that_an_amendment_replaces(phone: Phone) -> None:
    letter = phone.letter()
    statement = phone.send(letter, 201).json["receipt"]["statement"]
    amend = answering.Amend(letter.record, "Hover was better.")
    draft = done(phone.school, "ben", answering.amend_record, amend)
    held = {one["record"]: one for one in phone.pocket()["cards"]}[draft.id]
    assert held["body"]["supersedes"] == statement
    assert held["body"]["amends"] == letter.record
    again = phone.letter(draft.id, version=1)
    assert phone.send(again, 200).json["state"] == "signed"
    before = record(phone, letter.record)
    assert before is not None
    assert before.state == "superseded"
