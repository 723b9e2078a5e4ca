"""The main job without script: grade, sign, acknowledge, amend, see what is weak."""

import re

from gradebook.records.store import facts
from tests.cast import SECRET, TestSchool, Visitor


def lesson_form(page: str) -> dict[str, str]:
    """The version a card was opened at."""
    found = re.search(r'name="version"[^>]*value="(\d+)"', page)
    assert found, page[:500]
    return {"version": found[1]}


def open_card(ben: Visitor, school: TestSchool, lesson: str = "s-01") -> tuple[str, str]:
    """Open the card of a lesson: its id and its page."""
    answer = ben.send(f"/students/{school.enrolment}/lessons", {"lesson": lesson})
    return answer.request.path.rsplit("/", 1)[1], answer.text


FILLED = {
    "flown_on": "2026-05-20",
    "aircraft": "invented",
    "ident": "KM-H1",
    "level-preflight": "perform",
    "level-run-up": "explain",
    "errors-run-up": "RU-04",
    "level-hover": "explain",
    "reading-left-drop": "140",
    "reading-right-drop": "165",
    "times-dual": "1.2",
    "times-ground": "0:30",
    "times-day_landings": "3",
    "outcome": "complete",
    "do": "review",
}


def sign_first_lesson(school: TestSchool, **changes: str) -> str:
    """Ben grades and signs Ana's first lesson; its id."""
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    ben.send(f"/lessons/{record}", {**FILLED, **lesson_form(page), **changes})
    review = ben.get(f"/lessons/{record}/review")
    ben.send(f"/lessons/{record}/sign", {**lesson_form(review), "secret": SECRET})
    return record


def test_a_lesson_is_graded_signed_and_acknowledged(either_school: TestSchool) -> None:
    school = either_school
    record = sign_first_lesson(school)
    with school.database.read() as session:
        (fact,) = facts.history(session, school.enrolment)
    assert fact.aircraft == "invented"
    signed = school.visitor("ben").get(f"/records/{record}")
    assert "Unaltered since it was signed." in signed
    assert "Selector left on one side" in signed

    ana = school.visitor("ana")
    home = ana.get("/")
    assert "Safety-critical error: Selector left on one side" in home
    assert "Carried over from First lesson: below standard" in home
    ana.get(f"/records/{record}")
    page = ana.post(
        f"/records/{record}/acknowledge", answer="disagree", comment="Windy.", secret=SECRET
    )
    assert "Disagreed" in page
    assert "Windy." in page


def test_a_reading_names_the_limits_it_was_held_to(school: TestSchool) -> None:
    held = "over 0, at most 175 rpm; Magneto difference at most 50 rpm"
    ben = school.visitor("ben")
    record = sign_first_lesson(school)
    signed = ben.get(f"/records/{record}")
    assert signed.count(held) == 2
    other, page = open_card(ben, school, "s-02")
    alone = {**FILLED, **lesson_form(page), "reading-left-drop": "200"}
    del alone["reading-right-drop"]
    ben.send(f"/lessons/{other}", alone)
    review = ben.get(f"/lessons/{other}/review")
    assert "outside limits" in review
    assert "over 0, at most 175 rpm</span>" in review
    assert "Magneto difference" not in review


def test_readings_are_worked_out_on_the_card(school: TestSchool) -> None:
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    fields = {**FILLED, **lesson_form(page), "reading-left-drop": "80", "do": "save"}
    card = ben.send(f"/lessons/{record}", fields).text
    assert "difference 85, limit 50" in card
    assert "outside the limit" in card


def test_a_carried_task_closes_when_the_target_is_met(school: TestSchool) -> None:
    sign_first_lesson(school)
    school.clock.pass_days(3)
    ben = school.visitor("ben")
    record, page = open_card(ben, school, "s-02")
    assert "Carried over from First lesson" in page
    levels = {
        f"level-{task}": "perform" for task in ("preflight", "run-up", "hover", "shutdown")
    }
    sent = {**FILLED, **lesson_form(page), **levels, "flown_on": "2026-05-23"}
    del sent["errors-run-up"]
    ben.send(f"/lessons/{record}", sent)
    review = ben.get(f"/lessons/{record}/review")
    ben.send(f"/lessons/{record}/sign", {**lesson_form(review), "secret": SECRET})
    assert "Carried over from" not in school.visitor("ana").get("/")


def test_an_amendment_leaves_both_records_readable(either_school: TestSchool) -> None:
    school = either_school
    original = sign_first_lesson(school)
    ben = school.visitor("ben")
    ben.get(f"/records/{original}/amend")
    card = ben.send(f"/records/{original}/amend", {"reason": "Hover was better."})
    draft = card.request.path.rsplit("/", 1)[1]
    sent = {**FILLED, **lesson_form(card.text), "level-hover": "practice"}
    ben.send(f"/lessons/{draft}", sent)
    review = ben.get(f"/lessons/{draft}/review")
    page = ben.send(f"/lessons/{draft}/sign", {**lesson_form(review), "secret": SECRET}).text
    assert "Hover was better." in page
    assert "practice" in page
    old = ben.get(f"/records/{original}")
    assert "Amended" in old
    assert "Unaltered since it was signed." in old


def test_signing_twice_signs_once(school: TestSchool) -> None:
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    ben.send(f"/lessons/{record}", {**FILLED, **lesson_form(page)})
    review = lesson_form(ben.get(f"/lessons/{record}/review"))
    ben.send(f"/lessons/{record}/sign", {**review, "secret": SECRET})
    ben.send(f"/lessons/{record}/sign", {**review, "secret": SECRET}, status=409)
    folder = ben.get(f"/students/{school.enrolment}/records")
    assert "1 signed record<" in folder


def test_a_wrong_secret_signs_nothing(school: TestSchool) -> None:
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    ben.send(f"/lessons/{record}", {**FILLED, **lesson_form(page)})
    review = lesson_form(ben.get(f"/lessons/{record}/review"))
    page = ben.send(f"/lessons/{record}/sign", {**review, "secret": "wrong"}, status=422).text
    assert "This is not the secret of this account." in page
    assert "Not signed yet" not in ben.get(f"/students/{school.enrolment}/records")
    assert "No signed record yet." in ben.get(f"/students/{school.enrolment}/records")


def test_two_tabs_never_overwrite_each_other(school: TestSchool) -> None:
    ben = school.visitor("ben")
    record, page = open_card(ben, school)
    version = lesson_form(page)
    ben.send(f"/lessons/{record}", {**FILLED, **version, "remarks": "from one", "do": "save"})
    answer = ben.send(
        f"/lessons/{record}", {**FILLED, **version, "remarks": "from two", "do": "save"}, 409
    )
    assert "from one" in answer.text
    assert "from two" in answer.text
    assert "from one" in ben.get(f"/lessons/{record}")


def test_the_lesson_to_open_is_the_next_one_or_any_with_the_day_it_was_flown(
    school: TestSchool,
) -> None:
    sign_first_lesson(school)
    ben = school.visitor("ben")
    page = ben.get(f"/students/{school.enrolment}/lessons/new")
    first = page.split("<section")[1]
    assert "Next by the plan" in first
    assert "Grade S-02" in first
    assert "S-01" not in first
    assert "S-01" in page
    assert page.count(", flown 20 May 2026") == 1
