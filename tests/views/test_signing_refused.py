"""What keeps a card from being signed, amended or answered, and that the page says so."""

import pytest

from tests.card_desk import Desk, said
from tests.cast import SECRET, TestSchool
from tests.walks.test_main_job import lesson_form, sign_first_lesson


@pytest.fixture
def desk(school: TestSchool) -> Desk:
    return Desk(school)


@pytest.mark.parametrize(
    ("dropped", "words"),
    [
        ("outcome", "Choose the outcome of the lesson."),
        ("flown_on", "Enter the date of the lesson."),
        ("aircraft", "Choose the aircraft type."),
        ("ident", "Enter the aircraft's registration."),
        ("times__dual", "Enter the flight time."),
    ],
)
def test_signing_says_what_is_missing(desk: Desk, dropped: str, words: str) -> None:
    desk.save(**{dropped: ""})
    assert words in said(desk.sign(422))
    assert desk.stored().state == "draft"


def test_a_lesson_without_a_single_grade_cannot_be_signed(desk: Desk) -> None:
    desk.save(level__preflight="", level__run__up="", level__hover="")
    assert "Grade at least one task." in said(desk.sign(422))
    assert desk.stored().state == "draft"


def test_a_grade_below_target_needs_an_error_or_a_remark(desk: Desk) -> None:
    wanted = "Run-up is below standard: mark an error or say why in a remark."
    desk.save(errors__run__up=None)
    assert wanted in said(desk.sign(422))
    assert desk.stored().state == "draft"


def test_a_grade_below_target_with_a_remark_can_be_signed(desk: Desk) -> None:
    desk.save(errors__run__up=None, remark__run__up="Read the wrong gauge.")
    assert "Read the wrong gauge." in desk.sign()
    assert desk.stored().state == "signed"


def test_an_empty_reason_amends_nothing(school: TestSchool) -> None:
    record = sign_first_lesson(school)
    ben = school.visitor("ben")
    ben.get(f"/records/{record}/amend")
    page = ben.send(f"/records/{record}/amend", {"reason": "   "}, 422).text
    assert "Say why the record is amended." in page


def test_a_disagreement_without_words_is_refused(school: TestSchool) -> None:
    record = sign_first_lesson(school)
    ana = school.visitor("ana")
    ana.get(f"/records/{record}")
    sent = {"answer": "disagree", "secret": SECRET}
    page = ana.send(f"/records/{record}/acknowledge", sent, 422).text
    assert "Say what you disagree with." in page


def test_a_card_changed_after_its_review_is_not_signed(desk: Desk) -> None:
    desk.save()
    reviewed = lesson_form(desk.review())
    desk.save(remarks="changed since")
    path = f"/lessons/{desk.record}/sign"
    page = desk.ben.send(path, {**reviewed, "secret": SECRET}, 409).text
    assert "The card changed after you reviewed it: review it again." in page
    assert desk.stored().state == "draft"
