"""Closing a watch item by decision, and approving a check: refused without losing a word."""

from html import unescape

from tests.cast import SECRET, TestSchool
from tests.walks.test_independence import STAGE, recommend
from tests.walks.test_main_job import sign_first_lesson

TOO_LONG = "Keep the reason under 2000 characters."


def close(school: TestSchool, status: int, secret: str = SECRET, reason: str = "Shown.") -> str:
    """Ben decides that the item of the run-up may be closed; the page that follows."""
    ben = school.visitor("ben")
    ben.get("/")
    sent = {"task": "run-up", "error": "RU-04", "reason": reason, "secret": secret}
    return unescape(ben.send(f"/students/{school.enrolment}/watch", sent, status).text)


def test_a_wrong_secret_loses_no_word_of_the_reason(school: TestSchool) -> None:
    sign_first_lesson(school)
    page = close(school, 422, "some other sentence", "Shown twice without.")
    assert page.index("Not closed yet.") < page.index("Watch items")
    assert "This is not the secret of this account." in page
    assert ">Shown twice without.</textarea>" in page.replace("\r\n", "").replace("\n", "")
    assert "Your decision is on the record." in close(school, 200, reason="Shown twice.")


def test_a_reason_to_close_that_is_too_long_is_not_cut_off(school: TestSchool) -> None:
    sign_first_lesson(school)
    page = close(school, 422, reason="x" * 2001)
    assert TOO_LONG in page
    assert "x" * 2001 in page
    assert "Your decision is on the record." in close(school, 200, reason="x" * 2000)


def test_a_reason_to_approve_that_is_too_long_is_refused(school: TestSchool) -> None:
    approval = recommend(school, "ben")
    cleo = school.visitor("cleo")
    page = f"/students/{school.enrolment}/readiness/{STAGE}"
    cleo.get(page)
    sent = {"approval": approval, "checker": school.ids["eve"], "secret": SECRET}
    refused = cleo.send(f"{page}/approve", {**sent, "reason": "x" * 2001}, 422).text
    assert TOO_LONG in refused
    approved = cleo.send(f"{page}/approve", {**sent, "reason": "x" * 2000}).text
    assert "Approved and assigned." in approved
