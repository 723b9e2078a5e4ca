"""A student disagrees with a record: who learns of it, and until when."""

from tests.cast import SECRET, TestSchool
from tests.walks.test_main_job import FILLED, lesson_form, sign_first_lesson

WORDS = "We never flew the second circuit."


def disagree(school: TestSchool) -> str:
    """Ben signs Ana's first lesson, and she disagrees; its id."""
    record = sign_first_lesson(school)
    ana = school.visitor("ana")
    ana.get(f"/records/{record}")
    said = {"answer": "disagree", "comment": WORDS, "secret": SECRET}
    ana.send(f"/records/{record}/acknowledge", said)
    return record


def test_instructor_chief_and_auditor_learn_of_it(either_school: TestSchool) -> None:
    record = disagree(either_school)
    for who, path in (("ben", "/"), ("cleo", "/"), ("gus", "/audit")):
        page = either_school.visitor(who).get(path)
        assert WORDS in page, who
        assert f"/records/{record}" in page, who
    assert WORDS not in either_school.visitor("dov").get("/")


def test_an_amendment_settles_it(school: TestSchool) -> None:
    record = disagree(school)
    ben = school.visitor("ben")
    ben.get(f"/records/{record}/amend")
    card = ben.send(f"/records/{record}/amend", {"reason": "Ana is right."})
    draft = card.request.path.rsplit("/", 1)[1]
    ben.send(f"/lessons/{draft}", {**FILLED, **lesson_form(card.text)})
    assert WORDS in ben.get("/")
    review = ben.get(f"/lessons/{draft}/review")
    ben.send(f"/lessons/{draft}/sign", {**lesson_form(review), "secret": SECRET})
    for who, path in (("ben", "/"), ("cleo", "/"), ("gus", "/audit")):
        assert WORDS not in school.visitor(who).get(path), who


def test_a_void_record_is_no_longer_disagreed_with(school: TestSchool) -> None:
    record = disagree(school)
    cleo = school.visitor("cleo")
    cleo.get(f"/records/{record}/void")
    cleo.send(f"/records/{record}/void", {"reason": "Never flown.", "secret": SECRET})
    assert WORDS not in cleo.get("/")


def test_left_as_it_is_it_leaves_today_but_not_the_audit(school: TestSchool) -> None:
    disagree(school)
    school.clock.pass_days(31)
    assert WORDS not in school.visitor("cleo").get("/")
    assert WORDS in school.visitor("gus").get("/audit")


def test_the_author_is_told_what_waits_though_the_student_is_not_theirs(
    school: TestSchool,
) -> None:
    record = sign_first_lesson(school)
    cleo = school.visitor("cleo")
    cleo.get(f"/records/{record}/amend")
    card = cleo.send(f"/records/{record}/amend", {"reason": "Two landings more."})
    draft = card.request.path.rsplit("/", 1)[1]
    cleo.send(f"/lessons/{draft}", {**FILLED, **lesson_form(card.text)})
    review = cleo.get(f"/lessons/{draft}/review")
    cleo.send(f"/lessons/{draft}/sign", {**lesson_form(review), "secret": SECRET})
    home = cleo.get("/")
    assert "Waiting for the student" in home
    assert f"/records/{draft}" in home


def test_a_student_on_their_own_phone_is_not_warned_of_the_instructors_secret(
    school: TestSchool,
) -> None:
    record = sign_first_lesson(school)
    ana, ben = school.visitor("ana"), school.visitor("ben")
    ana.get(f"/records/{record}")
    sent = {"answer": "disagree", "secret": SECRET}
    again = ana.send(f"/records/{record}/acknowledge", sent, 422).text
    assert "not the instructor" not in again
    assert "not the instructor" in ben.get(f"/records/{record}/acknowledge-here")
