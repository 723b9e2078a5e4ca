"""A card, a form or an upload that cannot stand: it is said, kept, and never half-written."""

import io
import re

import pytest

from gradebook.records.store import people
from gradebook.security.limits import MIB
from tests.card_desk import Desk, said
from tests.cast import SECRET, TestSchool
from tests.walks.test_main_job import FILLED

JSON = {"Accept": "application/json"}


@pytest.fixture
def desk(school: TestSchool) -> Desk:
    return Desk(school)


def test_a_remark_that_is_too_long_is_refused_with_its_text_still_in_the_page(
    desk: Desk,
) -> None:
    long = "Drifted. " + "x" * 1992
    page = desk.save(422, remark__hover=long)
    assert 'href="#remark-hover"' in page
    assert "Remark: Keep this under 2000 characters." in said(page)
    assert long in page
    assert desk.stored().version == 1


def test_a_remark_of_exactly_two_thousand_characters_is_kept(desk: Desk) -> None:
    long = "x" * 2000
    assert long in desk.save(remark__hover=long)
    assert desk.stored().version == 2


def test_a_long_remark_sent_by_the_script_names_its_field(desk: Desk) -> None:
    data = {"csrf_token": desk.ben.token, "version": "1", "remark-hover": "x" * 2001}
    answer = desk.ben.client.post(f"/lessons/{desk.record}", data=data, headers=JSON)
    assert answer.status_code == 422
    assert [one["field"] for one in answer.get_json()["problems"]] == ["remark-hover"]


def test_a_reading_in_the_wrong_unit_is_said_at_the_reading_and_kept_as_typed(
    desk: Desk,
) -> None:
    page = desk.save(reading__left__drop="80 psi")
    assert 'value="80 psi"' in page
    assert 'href="#reading-left-drop"' in page
    assert any("rpm" in words and "Left magneto drop" in words for words in said(page))
    desk.sign(422)
    assert desk.stored().state == "draft"


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("times-dual", "25:00", "A day has 24 hours."),
        ("times-dual", "1:75", "Type hours as 1.2 or 1:12."),
        ("times-dual", "-1", "Type hours as 1.2 or 1:12."),
        ("times-dual", "an hour", "Type hours as 1.2 or 1:12."),
        ("times-night", "1.3", "Night is longer than the whole flight (dual and solo)."),
        ("times-instrument", "2:00", "Instrument reference is longer than the whole flight"),
        ("times-ground", "23:00", "Together these are more than 24 hours."),
        ("times-day_landings", "-3", "Type a whole number from 0 to 200."),
        ("times-day_landings", "201", "Type a whole number from 0 to 200."),
        ("times-distance_nm", "far", "Type nautical miles, such as 52 or 52.5."),
        ("times-longest_leg_nm", "60", "The longest leg is longer than the whole flight."),
        ("flown_on", "2026-05-21", "2026-05-21 is in the future."),
        ("flown_on", "2026-03-30", "The student enrolled on 2026-03-31, after this date."),
        ("flown_on", "20.5.2026", "Type the date as year-month-day"),
        ("level-hover", "splendid", "Hover: splendid is not a level of the scale"),
        ("errors-hover", "ZZ-99", "Hover: no error ZZ-99 in this task."),
        ("outcome", "passed", "Choose one of the outcomes shown."),
        ("next_lesson", "s-99", "Choose a lesson of this course."),
        ("aircraft", "balloon", "Choose an aircraft type of this course."),
    ],
)
def test_what_cannot_be_is_said_on_card_and_review_and_is_not_signed(
    desk: Desk, field: str, typed: str, words: str
) -> None:
    page = desk.save(**{field.replace("-", "__"): typed})
    assert any(words in one for one in said(page)), said(page)
    assert any(words in one for one in said(desk.review()))
    desk.sign(422)
    assert desk.stored().state == "draft"


@pytest.mark.parametrize("typed", ["25:00", "an hour"])
def test_a_time_that_cannot_be_read_stays_as_typed(desk: Desk, typed: str) -> None:
    assert f'value="{typed}"' in desk.save(times__dual=typed)


def test_the_day_of_enrolment_and_today_are_both_possible(desk: Desk) -> None:
    assert said(desk.save(flown_on="2026-03-31")) == []
    assert said(desk.save(flown_on="2026-05-20")) == []


def test_a_lesson_of_another_course_cannot_be_opened(school: TestSchool) -> None:
    ben = school.visitor("ben")
    page = ben.post(f"/students/{school.enrolment}/lessons", 422, lesson="s-99")
    assert "Choose a lesson of this course." in page


def test_a_card_saved_over_a_newer_one_is_refused_and_shows_both(desk: Desk) -> None:
    desk.save(remarks="the newer words")
    fields = {**FILLED, "version": "1", "remarks": "the older words", "do": "save"}
    page = desk.ben.send(f"/lessons/{desk.record}", fields, 409).text
    assert "the newer words" in page
    assert "the older words" in page
    assert desk.stored().card["remarks"] == "the newer words"


def test_the_script_is_told_of_a_newer_version(desk: Desk) -> None:
    desk.save(remarks="the newer words")
    data = {"csrf_token": desk.ben.token, **FILLED, "version": "1", "remarks": "older"}
    answer = desk.ben.client.post(f"/lessons/{desk.record}", data=data, headers=JSON)
    assert answer.status_code == 409
    assert answer.get_json()["conflict"] is True
    assert desk.stored().card["remarks"] == "the newer words"


@pytest.mark.parametrize("typed", ["", "x", "-1", "²", "9" * 30])
def test_a_version_that_is_none_is_refused_and_nothing_is_written(
    desk: Desk, typed: str
) -> None:
    fields = {**FILLED, "version": typed, "secret": SECRET}
    desk.ben.send(f"/lessons/{desk.record}", fields, 422)
    desk.ben.send(f"/lessons/{desk.record}/sign", fields, 409)
    desk.ben.send(f"/lessons/{desk.record}/flow", {"version": typed, "do": "done:covers"}, 409)
    assert desk.stored().version == 1


def test_an_item_of_no_checklist_cannot_be_ticked(desk: Desk) -> None:
    path = f"/lessons/{desk.record}/flow"
    page = desk.ben.send(path, {"version": "1", "do": "done:wings"}, 422).text
    assert "Choose an item of this checklist." in page
    assert desk.stored().card["steps"] == []


@pytest.mark.parametrize("path", ["/lessons/{}", "/lessons/{}/review", "/records/{}/amend"])
def test_an_id_nobody_has_is_not_found(either_school: TestSchool, path: str) -> None:
    ben = either_school.visitor("ben")
    for made_up in ("0" * 32, "x", "..%2f..", "%00", "' OR 1=1 --"):
        ben.get(path.format(made_up), 404)


def test_a_stranger_can_neither_save_nor_sign(desk: Desk) -> None:
    dov = desk.school.visitor("dov")
    sent = {**FILLED, "version": "1", "secret": SECRET}
    dov.send(f"/lessons/{desk.record}", sent, 404)
    dov.send(f"/lessons/{desk.record}/sign", sent, 404)
    dov.send(f"/lessons/{desk.record}/discard", {}, 404)
    assert desk.stored().version == 1


def test_an_upload_of_more_than_ten_mebibytes_is_refused(school: TestSchool) -> None:
    cleo = school.visitor("cleo")
    form = "multipart/form-data; boundary=part"
    sent = b"a" * (10 * MIB + 1)
    answer = cleo.client.post("/import/preview", data=sent, content_type=form)
    assert answer.status_code == 413
    assert "a file to import may hold 10 MiB" in answer.text


def test_an_upload_that_is_no_table_is_refused_with_a_reason(school: TestSchool) -> None:
    cleo = school.visitor("cleo")
    sent = {"file": (io.BytesIO(b"\xff\xfe\x00nothing"), "students.csv")}
    cleo.send("/import/preview", sent, 422)
    with school.database.read() as session:
        assert len(people.people(session)) == len(school.ids)


def test_a_tick_can_be_taken_back(desk: Desk) -> None:
    desk.save(times__test_preparation="yes")
    assert desk.stored().card["times"]["test_preparation"] == "yes"
    desk.save()
    assert "test_preparation" not in desk.stored().card["times"]


def test_a_character_that_cannot_be_kept_is_refused(either_school: TestSchool) -> None:
    desk = Desk(either_school)
    page = desk.save(422, remarks="be\0fore")
    assert "Remarks holds a character that cannot be kept." in page
    assert desk.stored().version == 1


def test_a_search_with_a_character_nobody_can_type_is_refused(school: TestSchool) -> None:
    school.visitor("ben").get("/students?q=%00", 422)


def test_nobody_is_enrolled_with_an_instructor_whom_nobody_chose(school: TestSchool) -> None:
    cleo, student = school.visitor("cleo"), school.ids["ana"]
    address = f"/people/{student}/enrol"
    assert re.search(r'<option (selected )?value="">choose', cleo.get(address))
    page = cleo.post(address, 422, course="small", instructor="", enrolled_on="2026-05-01")
    assert said(page) == ["Principal instructor: Choose who teaches this student."]


def test_a_card_from_a_browser_that_lost_its_session_leads_to_signing_in(desk: Desk) -> None:
    address, client = f"/lessons/{desk.record}", desk.ben.client
    typed = {"csrf_token": desk.ben.token, "version": "1", **FILLED}
    stale = client.post(address, data=typed | {"csrf_token": "stale"}, headers=JSON)
    assert stale.status_code == 400
    client.delete_cookie("windtee_session")
    client.delete_cookie("session")
    told = client.post(address, data=typed, headers=JSON)
    assert (told.status_code, told.get_json()["error"][:11]) == (401, "Signed out.")
    sent = client.post(address, data=typed, headers={"Referer": f"http://localhost{address}"})
    assert (sent.status_code, sent.location) == (303, f"/sign-in?next={address}")
    assert desk.stored().version == 1
