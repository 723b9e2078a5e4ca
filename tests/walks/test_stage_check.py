"""A stage check: recommended, refused to who is not independent, conducted, its tasks back."""

from sqlalchemy import select

from gradebook.records.tables.ledger import LedgerEntry
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.training import StageApproval
from tests.cast import SECRET, TestSchool, Visitor
from tests.copies.paper_trail import amend, end
from tests.walks.test_main_job import FILLED, lesson_form, open_card

EARLY = "The examiner comes on Friday only."


def flown(school: TestSchool, lesson: str, day: str) -> None:
    """Ben flies a lesson with Ana, everything at its target, and signs it."""
    ben = school.visitor("ben")
    record, page = open_card(ben, school, lesson)
    sent = {
        **FILLED,
        **lesson_form(page),
        "level-run-up": "perform",
        "level-preflight": "perform",
        "level-hover": "perform",
        "level-shutdown": "perform",
        "flown_on": day,
    }
    del sent["errors-run-up"]
    ben.send(f"/lessons/{record}", {**sent, "do": "save"})
    review = ben.get(f"/lessons/{record}/review")
    ben.send(f"/lessons/{record}/sign", {**lesson_form(review), "secret": SECRET})
    ana = school.visitor("ana")
    ana.get(f"/records/{record}")
    ana.post(f"/records/{record}/acknowledge", answer="agree", secret=SECRET)


def ready(school: TestSchool) -> str:
    """Ana has met everything the first check asks; the address of its readiness page."""
    flown(school, "s-01", "2026-05-18")
    flown(school, "s-02", "2026-05-19")
    ben = school.visitor("ben")
    ben.get(f"/students/{school.enrolment}/file")
    ben.post(
        f"/students/{school.enrolment}/file",
        what="medical",
        happened_on="2026-05-01",
        passed="y",
        secret=SECRET,
    )
    return f"/students/{school.enrolment}/readiness/stage-1"


def approve(
    cleo: Visitor, page: str, school: TestSchool, who: str, status: int = 200, reason: str = ""
) -> str:
    """Cleo assigns somebody to the check."""
    text = cleo.get(page)
    approval = text.partition('name="approval" value="')[2].partition('"')[0]
    return cleo.post(
        f"{page}/approve",
        status,
        approval=approval,
        checker=school.ids[who],
        reason=reason,
        secret=SECRET,
    )


def test_a_check_goes_from_recommendation_to_result(either_school: TestSchool) -> None:
    school = either_school
    page = ready(school)
    ben, cleo = school.visitor("ben"), school.visitor("cleo")
    assert "First stage check: ready" in ben.get(page)
    ben.post(f"{page}/recommend")
    assert "Approved and assigned." in approve(cleo, page, school, "eve")

    eve = school.visitor("eve")
    assert "Stage checks you are assigned to" in eve.get("/")
    record, card = open_card(eve, school, "s-check")
    failed = {
        **FILLED,
        **lesson_form(card),
        "level-preflight": "perform",
        "level-run-up": "practice",
        "outcome": "failed",
    }
    eve.send(f"/lessons/{record}", failed)
    review = eve.get(f"/lessons/{record}/review")
    assert "Failed" in review
    eve.send(f"/lessons/{record}/sign", {**lesson_form(review), "secret": SECRET})
    own = school.visitor("ana").get("/")
    assert "Carried over from First stage check: below standard" in own


def test_nobody_checks_whom_they_recommended(school: TestSchool) -> None:
    page = ready(school)
    cleo = school.visitor("cleo")
    cleo.get(page)
    cleo.post(f"{page}/recommend")
    refused = approve(cleo, page, school, "cleo", 422)
    assert "14 CFR 141.37(c)" in refused


def test_a_check_before_everything_is_met_needs_a_reason(school: TestSchool) -> None:
    page = f"/students/{school.enrolment}/readiness/stage-1"
    ben, cleo = school.visitor("ben"), school.visitor("cleo")
    ben.get(page)
    ben.post(f"{page}/recommend", reason=EARLY)
    refused = approve(cleo, page, school, "eve", 422)
    assert "approving needs a reason" in refused


def test_whoever_recommends_before_everything_is_met_says_why(school: TestSchool) -> None:
    page = f"/students/{school.enrolment}/readiness/stage-1"
    ben, cleo = school.visitor("ben"), school.visitor("cleo")
    assert "Reason for an exception" in ben.get(page)
    assert "recommending needs a reason" in ben.post(f"{page}/recommend", 422)
    wordy = ben.post(f"{page}/recommend", 422, reason="x" * 2001)
    assert "Keep the reason under 2000 characters." in wordy
    assert "x" * 2001 in wordy
    ben.post(f"{page}/recommend", reason=EARLY)
    assert f"Why recommended before: {EARLY}" in cleo.get(page)
    assert EARLY in cleo.get("/")
    trail = school.visitor("gus").get("/audit")
    assert f"reason: {EARLY}" in trail
    with school.database.read() as session:
        statements = session.scalars(select(LedgerEntry.statement)).all()
    assert any(f'"reason":"{EARLY}"' in one for one in statements)


def test_who_is_ready_is_recommended_without_a_word(school: TestSchool) -> None:
    page = ready(school)
    ben = school.visitor("ben")
    assert "Reason for an exception" not in ben.get(page)
    assert "Recommended." in ben.post(f"{page}/recommend")


def except_ana(school: TestSchool) -> str:
    """Cleo approves a check by Eve before everything is met; the page of the check."""
    page = f"/students/{school.enrolment}/readiness/stage-1"
    ben, cleo = school.visitor("ben"), school.visitor("cleo")
    ben.get(page)
    ben.post(f"{page}/recommend", reason=EARLY)
    assert "recommended" in cleo.get("/readiness")
    approve(cleo, page, school, "eve", reason="The aircraft leaves tomorrow.")
    return page


def test_an_exception_is_told_wherever_the_check_is(school: TestSchool) -> None:
    page = except_ana(school)
    told = school.visitor("ben").get(page)
    assert "Exception: The aircraft leaves tomorrow." in told
    assert "check assigned as an exception" in school.visitor("gus").get("/readiness")
    eve = school.visitor("eve")
    record, card = open_card(eve, school, "s-check")
    eve.send(f"/lessons/{record}", {**FILLED, **lesson_form(card), "outcome": "failed"})
    review = eve.get(f"/lessons/{record}/review")
    eve.send(f"/lessons/{record}/sign", {**lesson_form(review), "secret": SECRET})
    signed = school.visitor("ana").get(f"/records/{record}")
    assert "approved this check as an exception: The aircraft leaves tomorrow." in signed
    assert "as an exception" not in school.visitor("gus").get("/readiness")


def test_an_assigned_check_folds_the_form_that_would_assign_it_anew(
    school: TestSchool,
) -> None:
    page = except_ana(school)
    cleo = school.visitor("cleo")
    assert "Assign somebody else" in cleo.get(page)
    refused = approve(cleo, page, school, "eve", 422)
    assert "Assign somebody else" not in refused
    assert 'name="checker"' in refused


def test_an_instructor_cannot_open_a_stage_check(school: TestSchool) -> None:
    ben = school.visitor("ben")
    ben.send(f"/students/{school.enrolment}/lessons", {"lesson": "s-check"}, 403)


def test_a_check_instructor_sees_only_assigned_students(school: TestSchool) -> None:
    school.visitor("eve").get(f"/students/{school.enrolment}", 404)


def test_the_requirement_that_all_is_signed_names_and_links_the_open_draft(
    school: TestSchool,
) -> None:
    page = f"/students/{school.enrolment}/readiness/stage-1"
    ben, cleo = school.visitor("ben"), school.visitor("cleo")
    record, _ = open_card(ben, school, "s-02")
    card = f'<a href="/lessons/{record}">'
    assert f"{card}Draft of S-02</a>, opened by Ben on" in ben.get(page)
    theirs = cleo.get(page)
    assert "Draft of S-02, opened by Ben on" in theirs
    assert card not in theirs
    assert f"draft open: {card}S-02</a>" in ben.get("/")


def pass_ana(school: TestSchool) -> str:
    """Eve passes Ana in the first stage check; the page of the check."""
    page = except_ana(school)
    eve = school.visitor("eve")
    record, card = open_card(eve, school, "s-check")
    at_target = {"level-run-up": "perform", "outcome": "passed"}
    eve.send(f"/lessons/{record}", {**FILLED, **lesson_form(card), **at_target})
    review = eve.get(f"/lessons/{record}/review")
    eve.send(f"/lessons/{record}/sign", {**lesson_form(review), "secret": SECRET})
    return page


def test_a_check_once_passed_is_not_recommended_again(school: TestSchool) -> None:
    page = pass_ana(school)
    ben = school.visitor("ben")
    seen = ben.get(page)
    assert "Passed, 20 May 2026" in seen
    assert "<h2>First stage check: passed</h2>" in seen
    assert "Estimated chance of passing" not in seen
    assert "Recommend for" not in seen
    again = ben.post(f"{page}/recommend", 409, reason=EARLY)
    assert "This stage check has been passed." in again


def test_who_has_left_is_recommended_for_no_check(school: TestSchool) -> None:
    page = f"/students/{school.enrolment}/readiness/stage-1"
    ben = school.visitor("ben")
    assert "Recommend for" in ben.get(page)
    end(school, "transferred")
    assert "Recommend for" not in ben.get(page)
    again = ben.post(f"{page}/recommend", 409, reason=EARLY)
    assert "This enrolment has ended already." in again


def test_an_open_recommendation_ends_with_the_enrolment(school: TestSchool) -> None:
    page = f"/students/{school.enrolment}/readiness/stage-1"
    ben, cleo = school.visitor("ben"), school.visitor("cleo")
    ben.get(page)
    ben.post(f"{page}/recommend", reason=EARLY)
    before = cleo.get(page)
    end(school, "transferred")
    assert f"{page}/approve" in before
    assert f"{page}/approve" not in cleo.get(page)
    with school.database.read() as session:
        row = session.scalars(select(StageApproval)).one()
    late = {"approval": row.id, "checker": school.ids["eve"], "reason": EARLY}
    refused = cleo.post(f"{page}/approve", 409, secret=SECRET, **late)
    assert "This enrolment has ended already." in refused


def test_the_result_of_a_check_is_what_it_was_amended_to(school: TestSchool) -> None:
    page = pass_ana(school)
    with school.database.read() as session:
        row = session.scalars(select(LessonRecord).filter_by(lesson="s-check")).unique().one()
    later = amend(school, row.id, "It was the day before.", "eve", flown_on="2026-05-19")
    seen = school.visitor("cleo").get(page)
    assert f'href="/records/{later}">Passed, 19 May 2026</a>' in seen
    assert row.id not in seen
