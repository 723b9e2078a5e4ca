"""What can be undone before a signature, and what is said instead after it."""

from gradebook.records.card import Card
from gradebook.records.commands import opening, restoring
from gradebook.records.tables.lessons import LessonRecord
from tests.card_desk import Desk
from tests.cast import TestSchool
from tests.walks.test_main_job import FILLED, lesson_form, open_card, sign_first_lesson


def _card(school: TestSchool, record: str) -> Card:
    with school.database.read() as session:
        return opening.card_of(session.get_one(LessonRecord, record))


def thrown_away(school: TestSchool) -> Desk:
    """A filled card of Ben's, thrown away."""
    desk = Desk(school)
    desk.save(remarks="Words worth keeping.")
    page = desk.ben.post(f"/lessons/{desk.record}/discard")
    assert "For an hour you can bring it back" in page
    assert f'action="/lessons/{desk.record}/restore"' in page
    return desk


def test_a_draft_thrown_away_comes_back_with_every_word(either_school: TestSchool) -> None:
    desk = thrown_away(either_school)
    assert "Go on grading" not in desk.ben.get(f"/students/{either_school.enrolment}")
    page = desk.ben.post(f"/lessons/{desk.record}/restore")
    assert "The draft is back as it was." in page
    assert "Words worth keeping." in page
    assert 'value="KM-H1"' in page
    desk.ben.get(f"/lessons/{desk.record}/review")


def test_an_older_copy_cannot_overwrite_a_draft_that_came_back(school: TestSchool) -> None:
    desk = Desk(school)
    older = lesson_form(desk.page)
    desk.save()
    desk.ben.post(f"/lessons/{desk.record}/discard")
    desk.ben.post(f"/lessons/{desk.record}/restore")
    for version in (older["version"], "2"):
        desk.send(409, version=version, remarks="older")
    assert desk.stored().version == 3


def test_only_who_threw_it_away_brings_it_back_and_only_for_an_hour(
    school: TestSchool,
) -> None:
    desk = thrown_away(school)
    for name, status in (("dov", 404), ("cleo", 404), ("ana", 403)):
        school.visitor(name).post(f"/lessons/{desk.record}/restore", status)
    school.clock.at += restoring.WHILE
    desk.ben.get("/")
    desk.ben.post(f"/lessons/{desk.record}/restore")
    desk.ben.post(f"/lessons/{desk.record}/discard")
    school.clock.pass_minutes(61)
    other = school.visitor("ben")
    other.get("/")
    other.post(f"/lessons/{desk.record}/restore", 404)


def test_a_draft_does_not_come_back_over_a_newer_one(school: TestSchool) -> None:
    desk = thrown_away(school)
    open_card(desk.ben, school)
    page = desk.ben.post(f"/lessons/{desk.record}/restore", 409)
    assert "A new card of this lesson is open meanwhile" in page


def test_an_amendment_thrown_away_comes_back_as_one(school: TestSchool) -> None:
    original = sign_first_lesson(school)
    ben = school.visitor("ben")
    ben.get(f"/records/{original}/amend")
    card = ben.send(f"/records/{original}/amend", {"reason": "Hover was better."})
    draft = card.request.path.rsplit("/", 1)[1]
    ben.post(f"/lessons/{draft}/discard")
    page = ben.post(f"/lessons/{draft}/restore")
    assert "This amends a signed record: Hover was better." in page
    ben.post(f"/lessons/{draft}/discard")
    ben.get(f"/records/{original}/amend")
    ben.send(f"/records/{original}/amend", {"reason": "Once more."})
    assert "amended or declared void meanwhile" in ben.post(f"/lessons/{draft}/restore", 409)


def test_grades_set_together_are_taken_back_together(school: TestSchool) -> None:
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    by_hand = {"level-hover": "explain", "errors-hover": ""}
    fields = {**FILLED, **lesson_form(page), **by_hand, "do": "rest"}
    fields = {name: words for name, words in fields.items() if name != "level-preflight"}
    page = ben.send(f"/lessons/{record}", fields).text
    assert "Undo: take back the grades set together" in page
    preflight = _card(school, record).entry("preflight")
    assert preflight.together
    grade = {"level-preflight": preflight.level, "together-preflight": preflight.level}
    sent = {**fields, **lesson_form(page), **grade, "do": "unset"}
    ben.send(f"/lessons/{record}", sent)
    card = _card(school, record)
    assert card.entry("preflight").level == ""
    assert card.entry("hover").level == "explain"


def test_after_the_signature_the_way_back_is_an_amendment(school: TestSchool) -> None:
    desk = Desk(school)
    desk.save()
    page = desk.sign()
    assert "What is signed cannot be undone: amend the record to correct it." in page
    desk.ben.post(f"/lessons/{desk.record}/discard", 409)
