"""Independence at its three doors: a check assigned, signed, and brought in by file."""

import re
from html import unescape

import pytest

from gradebook.records.commands import checks, enrolling
from gradebook.records.commands import roles as granting
from gradebook.records.independence import CITATION
from gradebook.records.permissions import Role
from gradebook.records.store import people
from tests.cast import SECRET, TestSchool
from tests.walks.test_import import commit, upload
from tests.walks.test_main_job import FILLED, lesson_form, open_card

WHY = "Nobody else on the coast may check this type."
STAGE = "stage-1"


def assign(school: TestSchool, who: str, *, principal: bool = True) -> None:
    """Cleo lets somebody teach Ana."""
    with school.database.write() as session:
        wanted = enrolling.Assign(school.enrolment, school.ids[who], principal)
        enrolling.assign(school.act(session, "cleo"), wanted)


def recommend(school: TestSchool, who: str) -> str:
    """Somebody recommends Ana for the check of the first stage."""
    with school.database.write() as session:
        wanted = checks.Recommend(school.enrolment, STAGE, WHY)
        return checks.recommend(school.act(session, who), wanted).id


def approve(school: TestSchool, approval: str, who: str, reason: str = WHY) -> bool:
    """Cleo assigns who checks; whether it is noted as not independent."""
    with school.database.write() as session:
        wanted = checks.Approve(school.enrolment, approval, school.ids[who], reason)
        return checks.approve(school.act(session, "cleo"), wanted).not_independent


def sign_check(school: TestSchool, who: str, status: int = 200) -> str:
    """Somebody opens the check, fills it in and signs; the page that follows."""
    return sign_draft(school, who, fill_check(school, who), status)


def fill_check(school: TestSchool, who: str) -> str:
    """Somebody opens the check and fills it in; its id."""
    visitor = school.visitor(who)
    record, card = open_card(visitor, school, "s-check")
    visitor.send(f"/lessons/{record}", {**FILLED, **lesson_form(card), "outcome": "failed"})
    return record


def sign_draft(school: TestSchool, who: str, record: str, status: int = 200) -> str:
    """Somebody signs a draft of theirs; the page that follows."""
    visitor = school.visitor(who)
    sent = {**lesson_form(visitor.get(f"/lessons/{record}/review")), "secret": SECRET}
    return visitor.send(f"/lessons/{record}/sign", sent, status).text


def refused(school: TestSchool, approval: str, who: str, reason: str = WHY) -> str:
    """What Cleo is told when she assigns somebody who may not check."""
    page = f"/students/{school.enrolment}/readiness/{STAGE}"
    cleo = school.visitor("cleo")
    cleo.get(page)
    sent = {
        "approval": approval,
        "checker": school.ids[who],
        "reason": reason,
        "secret": SECRET,
    }
    text = cleo.send(f"{page}/approve", sent, 422).text
    assert CITATION in text
    return text


def grant(school: TestSchool, who: str, role: Role) -> None:
    """Somebody gets another post."""
    with school.database.write() as session:
        person = people.person(session, school.ids[who])
        granting.grant(school.act(session, "cleo"), person, role)


def test_a_former_principal_is_not_assigned(either_school: TestSchool) -> None:
    school = either_school
    grant(school, "dov", Role.CHECK_INSTRUCTOR)
    assign(school, "dov")
    school.clock.pass_days(3)
    assign(school, "ben")
    asked = recommend(school, "ben")
    told = refused(school, asked, "dov")
    assert "Dov was the principal instructor from 20 May 2026 to 23 May 2026." in told
    assert "there is no exception" in told


def test_teaching_besides_the_principal_does_not_exclude(school: TestSchool) -> None:
    grant(school, "dov", Role.CHECK_INSTRUCTOR)
    assign(school, "dov", principal=False)
    assert approve(school, recommend(school, "ben"), "dov") is False


def test_a_chief_who_recommended_checks_for_a_reason_that_everybody_sees(
    either_school: TestSchool,
) -> None:
    school = either_school
    asked = recommend(school, "cleo")
    assert "A chief instructor may" in refused(school, asked, "cleo", "")
    assert approve(school, asked, "cleo") is True
    page = f"/students/{school.enrolment}/readiness/{STAGE}"
    assert "not independent" in school.visitor("ana").get(page)
    gus = school.visitor("gus")
    listed = gus.get("/audit").partition("Checks that were not independent</h2>")[2]
    assert "Ana, not flown yet: checked by Cleo, excepted by Cleo" in listed
    record = sign_check(school, "cleo")
    assert "This check was not independent." in record
    assert WHY in record
    audit = gus.get("/audit?prove=1")
    listed = audit.partition("Checks that were not independent</h2>")[2]
    assert re.search(rf'href="/records/\w+">Ana, flown 20 May 2026</a>: .*{WHY}', listed)
    assert "Everything is as it was signed" in audit
    assert "not independent" in school.visitor("ana").get(page)


def test_an_amendment_of_such_a_check_still_says_so(school: TestSchool) -> None:
    approve(school, recommend(school, "cleo"), "cleo")
    record = re.findall(r'href="/records/(\w+)/amend"', sign_check(school, "cleo"))[0]
    cleo = school.visitor("cleo")
    cleo.get(f"/records/{record}/amend")
    card = cleo.send(f"/records/{record}/amend", {"reason": "The hover was better."})
    draft = card.request.path.rsplit("/", 1)[1]
    assert "This check was not independent." in sign_draft(school, "cleo", draft)


def test_who_became_principal_after_the_assignment_cannot_sign(
    either_school: TestSchool,
) -> None:
    school = either_school
    grant(school, "eve", Role.INSTRUCTOR)
    approve(school, recommend(school, "ben"), "eve")
    assign(school, "eve")
    told = sign_check(school, "eve", 422)
    assert CITATION in told
    assert "Eve is the principal instructor since 20 May 2026." in told
    assert "assign the check anew" in told
    assert "No signed record yet." in school.visitor("cleo").get(
        f"/students/{school.enrolment}/records"
    )


def test_a_reason_typed_for_another_exception_does_not_excuse(school: TestSchool) -> None:
    asked = recommend(school, "ben")
    assert approve(school, asked, "cleo") is False  # the reason was for what is missing
    assign(school, "cleo")
    draft = fill_check(school, "cleo")
    assert CITATION in sign_draft(school, "cleo", draft, 422)
    assert approve(school, asked, "cleo") is True
    assert "This check was not independent." in sign_draft(school, "cleo", draft)


def test_an_excepted_chief_who_was_then_designated_cannot_sign(school: TestSchool) -> None:
    assert approve(school, recommend(school, "cleo"), "cleo") is True
    grant(school, "cleo", Role.CHECK_INSTRUCTOR)
    assert "there is no exception" in sign_check(school, "cleo", 422)


def test_who_lost_the_post_cannot_sign_the_check(school: TestSchool) -> None:
    grant(school, "eve", Role.INSTRUCTOR)
    approve(school, recommend(school, "ben"), "eve")
    draft = fill_check(school, "eve")
    sent = lesson_form(school.visitor("eve").get(f"/lessons/{draft}/review"))
    with school.database.write() as session:
        eve = people.person(session, school.ids["eve"])
        granting.revoke(school.act(session, "cleo"), eve, Role.CHECK_INSTRUCTOR)
    told = school.visitor("eve").send(f"/lessons/{draft}/sign", {**sent, "secret": SECRET}, 422)
    assert "Only a check instructor or chief instructor signs a stage check." in told.text


HEADER = "student_email,course,lesson,flown_on,instructor_email,task,grade,outcome,dual"
KEY = "{student}@school.example,small,s-check,{day},{who}@school.example"
CHECK_ROWS = f"{HEADER}\n{KEY},preflight,perform,passed,1.2\n{KEY},run-up,perform,,\n"


def rows_of(who: str) -> str:
    """A file in which somebody checked Ana."""
    return CHECK_ROWS.format(student="ana", day="2026-05-04", who=who)


def bring(school: TestSchool, who: str, reason: str, status: int = 200) -> str:
    """Cleo chooses a file in which somebody checked Ana; the preview."""
    cleo = school.visitor("cleo")
    cleo.get("/import")
    return upload(cleo, rows_of(who), status, reason=reason)


@pytest.mark.parametrize("reason", ["", WHY])
def test_a_file_cannot_bring_in_a_check_by_the_principal(
    either_school: TestSchool, reason: str
) -> None:
    told = bring(either_school, "ben", reason, 422)
    assert CITATION in told
    assert "Ben is the principal instructor since" in told
    assert re.search(
        r'data-label="Line or row">2</th>\s*<td data-label="Column">instructor_email', told
    )


def test_a_file_cannot_bring_in_a_check_by_a_former_principal(school: TestSchool) -> None:
    assign(school, "dov")
    assert CITATION in bring(school, "ben", WHY, 422)


def test_a_file_brings_in_an_independent_check(school: TestSchool) -> None:
    assert "1 lesson with 2 grades to import" in bring(school, "eve", "")


def test_a_chiefs_own_check_comes_in_for_a_reason_and_is_flagged(
    either_school: TestSchool,
) -> None:
    school = either_school
    assign(school, "cleo")
    assert "A chief instructor may" in bring(school, "cleo", "", 422)
    cleo = school.visitor("cleo")
    cleo.get("/import")
    preview = upload(cleo, rows_of("cleo"), reason=WHY)
    assert "1 stage check not independent" in preview
    digest = re.findall(r'name="digest" value="(\w+)"', preview)[0]
    forged = cleo.send("/import/commit", {"digest": digest}).text
    assert "Faults in the file: 1; nothing was written." in unescape(forged)
    assert "1 lesson with 2 grades imported." in commit(cleo, preview)
    audit = school.visitor("gus").get("/audit?prove=1")
    listed = audit.partition("Checks that were not independent</h2>")[2]
    found = re.search(r'href="(/records/\w+)">Ana, flown 4 May 2026</a>: (.*)</li>', listed)
    assert found
    assert found[2] == f"checked by Cleo, entered from earlier records. Reason: {WHY}"
    assert "Everything is as it was signed" in audit
    record = school.visitor("ana").get(found[1])
    assert "This check was not independent." in record
    assert WHY in record
