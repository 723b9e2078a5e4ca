"""Who opens which page: strangers find nothing, readers who may not act are told so."""

import pytest

from gradebook.records.commands import checks
from tests.cast import SECRET, TestSchool
from tests.walks.test_main_job import open_card, sign_first_lesson

STUDENT_PAGES = (
    "/students/{enrolment}",
    "/students/{enrolment}/records",
    "/students/{enrolment}/tasks/hover",
    "/students/{enrolment}/tasks/hover/charts/trend",
    "/students/{enrolment}/tasks/hover/charts/proof.csv",
    "/students/{enrolment}/cohort",
    "/students/{enrolment}/cohort/explore",
    "/students/{enrolment}/cohort.csv",
    "/students/{enrolment}/file",
    "/students/{enrolment}/readiness/stage-1",
)
TEACHER_PAGES = ("/students/{enrolment}/lessons/new",)
RECORD_PAGES = ("/records/{record}",)
HAND_OVER_PAGE = "/records/{record}/acknowledge-here"
CARD_PAGES = ("/lessons/{draft}", "/lessons/{draft}/review", "/lessons/{draft}/flow")
AMEND_PAGE = "/records/{record}/amend"
JUDGE_PAGE = "/students/{enrolment}/judge/s-02"
READING = (*STUDENT_PAGES, *RECORD_PAGES)


class Papers:
    """Ana's papers: a signed record and a draft of Ben's, and the pages about them."""

    def __init__(self, school: TestSchool) -> None:
        self.school = school
        self.record = sign_first_lesson(school)
        school.clock.pass_days(1)
        self.draft, _ = open_card(school.visitor("ben"), school, "s-02")

    def address(self, page: str) -> str:
        """The address of a page about Ana."""
        return page.format(
            enrolment=self.school.enrolment,
            record=self.record,
            draft=self.draft,
            student=self.school.ids["ana"],
        )

    def status(self, name: str, page: str) -> int:
        """The status somebody gets for a page, redirects not followed."""
        visitor = self.school.visitor(name)
        return visitor.client.get(self.address(page)).status_code


@pytest.fixture
def papers(school: TestSchool) -> Papers:
    return Papers(school)


def test_those_who_teach_and_oversee_ana_read_her_pages(papers: Papers) -> None:
    for name in ("ana", "ben", "cleo", "gus"):
        assert {page: papers.status(name, page) for page in READING} == dict.fromkeys(
            READING, 200
        ), name


def test_only_staff_hand_the_record_over_to_be_acknowledged(papers: Papers) -> None:
    wanted = {"ben": 200, "cleo": 200, "dov": 404, "ana": 403, "gus": 403, "flo": 403}
    assert {name: papers.status(name, HAND_OVER_PAGE) for name in wanted} == wanted


def test_an_auditor_cannot_acknowledge_with_the_secret_of_the_student(papers: Papers) -> None:
    gus = papers.school.visitor("gus")
    gus.get(papers.address(RECORD_PAGES[0]))
    sent = {"answer": "agree", "secret": SECRET}
    gus.send(papers.address(HAND_OVER_PAGE), sent, 403)
    assert "Student acknowledges here" in papers.school.visitor("ben").get(
        papers.address(RECORD_PAGES[0])
    )


@pytest.mark.parametrize("name", ["dov", "hal"])
def test_a_stranger_learns_nothing_of_ana(papers: Papers, name: str) -> None:
    assert {page: papers.status(name, page) for page in READING} == dict.fromkeys(READING, 404)


def test_an_instructor_who_is_a_stranger_finds_no_card_and_nothing_to_amend(
    papers: Papers,
) -> None:
    for page in (*CARD_PAGES, *TEACHER_PAGES, AMEND_PAGE):
        assert papers.status("dov", page) == 404, page


def test_a_student_who_is_a_stranger_can_neither_judge_nor_open(papers: Papers) -> None:
    assert papers.status("hal", JUDGE_PAGE) == 404
    for page in (*CARD_PAGES, *TEACHER_PAGES, AMEND_PAGE):
        assert papers.status("hal", page) == 403, page


def test_a_page_of_an_id_nobody_has_answers_a_stranger_like_anothers(papers: Papers) -> None:
    dov = papers.school.visitor("dov").client
    for page in (*READING, *CARD_PAGES, *TEACHER_PAGES, AMEND_PAGE):
        real = dov.get(papers.address(page))
        names = dict.fromkeys(("enrolment", "record", "draft"), "0" * 32)
        made_up = dov.get(page.format(**names))
        assert (real.status_code, said(real.text)) == (made_up.status_code, said(made_up.text))


def said(page: str) -> str:
    """The main part of a page."""
    return page.partition("<main")[2].partition("</main>")[0]


def test_the_check_instructor_is_a_stranger_until_assigned(papers: Papers) -> None:
    assert papers.status("eve", "/students/{enrolment}") == 404
    with papers.school.database.write() as session:
        ben = papers.school.act(session, "ben")
        asked = checks.recommend(
            ben, checks.Recommend(papers.school.enrolment, "stage-1", "Early.")
        )
        approval = checks.Approve(
            papers.school.enrolment, asked.id, papers.school.ids["eve"], "Early check."
        )
        checks.approve(papers.school.act(session, "cleo"), approval)
    assert papers.status("eve", "/students/{enrolment}") == 200
    assert papers.status("eve", AMEND_PAGE) == 403


@pytest.mark.parametrize("name", ["ana", "gus"])
def test_a_reader_who_may_not_teach_is_told_so(papers: Papers, name: str) -> None:
    for page in (*CARD_PAGES, *TEACHER_PAGES, AMEND_PAGE):
        assert papers.status(name, page) == 403, page


def test_the_chief_reads_a_draft_of_bens_but_cannot_grade_it(papers: Papers) -> None:
    assert papers.status("cleo", "/lessons/{draft}") == 403
    assert papers.status("cleo", "/lessons/{draft}/flow") == 403
    assert papers.status("cleo", AMEND_PAGE) == 200


def test_nobody_judges_for_ana(papers: Papers) -> None:
    assert papers.status("ana", JUDGE_PAGE) == 200
    for name in ("ben", "cleo", "gus", "flo"):
        assert papers.status(name, JUDGE_PAGE) == 403, name


def test_an_administrator_reads_no_training(papers: Papers) -> None:
    for page in (*READING, *CARD_PAGES, AMEND_PAGE):
        assert papers.status("flo", page) == 403, page


@pytest.mark.parametrize(
    ("page", "allowed"),
    [
        ("/syllabus", {"ana", "ben", "cleo", "eve", "flo", "gus"}),
        ("/secret", {"ana", "ben", "cleo", "eve", "flo", "gus"}),
        ("/students", {"ana", "ben", "cleo", "eve", "gus"}),
        ("/readiness", {"cleo", "gus"}),
        ("/school", {"cleo", "gus"}),
        ("/audit", {"cleo", "gus"}),
        ("/permissions", {"cleo", "flo", "gus"}),
        ("/import", {"cleo"}),
        ("/people", {"cleo", "flo"}),
        ("/people/new", {"flo"}),
        ("/people/{student}", {"flo"}),
        ("/people/{student}/enrol", {"cleo", "flo"}),
        ("/students/{enrolment}/teaching", {"cleo"}),
    ],
)
def test_a_page_of_the_school_opens_for_these_and_no_others(
    papers: Papers, page: str, allowed: set[str]
) -> None:
    names = ("ana", "ben", "cleo", "eve", "flo", "gus")
    found = {name: papers.status(name, page) for name in names}
    assert found == {name: 200 if name in allowed else 403 for name in names}
