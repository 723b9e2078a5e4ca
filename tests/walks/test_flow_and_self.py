"""Flow run, proposals from readings, and the student's own grades beside the instructor's."""

from tests.cast import SECRET, TestSchool
from tests.walks.test_main_job import FILLED, lesson_form, open_card, sign_first_lesson


def test_an_item_left_out_of_the_flow_is_proposed_as_an_error(school: TestSchool) -> None:
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    step = {**lesson_form(page), "part": "Run-up", "do": "done:select-one"}
    page = ben.send(f"/lessons/{record}/flow", step).text
    assert "Selector left out" in page
    card = ben.get(f"/lessons/{record}")
    assert "Selector left out" in card
    assert "Flow run: 1 item ticked" in card


def test_the_rest_of_a_checklist_is_ticked_at_once_and_taken_back(school: TestSchool) -> None:
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    sent = {**lesson_form(page), "part": "Run-up", "do": "rest"}
    page = ben.send(f"/lessons/{record}/flow", sent).text
    assert "left out" not in page
    sent = {**lesson_form(page), "part": "Run-up", "do": "undo"}
    assert "left out" in ben.send(f"/lessons/{record}/flow", sent).text


def test_a_skipped_item_is_not_performed(school: TestSchool) -> None:
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    sent = {**lesson_form(page), "part": "Preflight", "do": "done:doors"}
    page = ben.send(f"/lessons/{record}/flow", sent).text
    sent = {**lesson_form(page), "part": "Preflight", "do": "skipped:covers"}
    page = ben.send(f"/lessons/{record}/flow", sent).text
    assert "Covers left out" in page
    words = {"Accept-Language": "de"}
    german = ben.client.get(f"/lessons/{record}/flow?part=Preflight", headers=words).text
    assert ">ausgeführt</span>" in german
    assert ">übersprungen</span>" in german
    assert ": skipped" not in german


def test_a_reading_out_of_limits_is_proposed_and_signed_once_confirmed(
    school: TestSchool,
) -> None:
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    sent = {
        **FILLED,
        **lesson_form(page),
        "reading-left-drop": "200",
        "reading-right-drop": "165",
        "errors-run-up": "RU-05",
        "level-hover": "practice",
    }
    ben.send(f"/lessons/{record}", sent)
    review = ben.get(f"/lessons/{record}/review")
    assert "Drop out of limits accepted" in review
    page = ben.send(f"/lessons/{record}/sign", {**lesson_form(review), "secret": SECRET}).text
    assert "from the reading" in page
    assert "outside" in page


def test_what_is_proposed_and_not_confirmed_is_said_before_signing(school: TestSchool) -> None:
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    sent = {**FILLED, **lesson_form(page), "reading-left-drop": "0"}
    review = ben.send(f"/lessons/{record}", sent).text
    assert "Proposed but not confirmed" in review


def test_own_grades_stand_beside_the_instructors(school: TestSchool) -> None:
    ana = school.visitor("ana")
    ana.get(f"/students/{school.enrolment}/judge/s-01")
    own = {"level-hover": "perform", "level-run-up": "describe"}
    ana.send(f"/students/{school.enrolment}/judge/s-01", own)
    record = sign_first_lesson(school)
    page = ana.get(f"/records/{record}")
    row = page.partition('data-label="Own grade">')[2]
    assert "Own grade" in page
    assert "Describe" in row


def test_own_grades_must_be_levels_of_the_scale(school: TestSchool) -> None:
    ana = school.visitor("ana")
    ana.get(f"/students/{school.enrolment}/judge/s-01")
    path = f"/students/{school.enrolment}/judge/s-01"
    assert "Choose one of the levels" in ana.send(path, {"level-hover": "meets"}, 422).text
