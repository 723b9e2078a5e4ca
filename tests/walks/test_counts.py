"""What pages count: of whom, of what, and the same on each of them."""

import json
from fractions import Fraction

from gradebook.formats import hours
from gradebook.records.card import Entry
from gradebook.records.commands import enrolling, needling
from tests.cast import TestSchool
from tests.copies.paper_trail import certify, end, fly, void
from tests.generator import make
from tests.walks.test_import import bring_in

AT_TARGET = tuple(Entry(task, "perform") for task in ("preflight", "run-up", "hover"))
SLIPPED = (AT_TARGET[0], Entry("run-up", "perform", "", ("RU-04",)), AT_TARGET[2])


def test_of_the_tasks_of_a_check_only_its_own_are_called_carried_over(
    school: TestSchool,
) -> None:
    fly(school, "s-01")
    drifts = Entry("hover", "explain", "Drifts back.")
    fly(school, "s-02", entries=(*AT_TARGET[:2], drifts, Entry("shutdown", "perform")))
    page = school.visitor("ben").get(f"/students/{school.enrolment}")
    assert "Next: S-CHECK First stage check" in page
    assert "2, 0 of them carried over" in page
    assert "1 task carried over" in school.visitor("ben").get("/")


def test_a_watch_item_of_who_has_left_is_open_no_more(school: TestSchool) -> None:
    fly(school, "s-01", entries=SLIPPED)
    cleo = school.visitor("cleo")
    assert "1 open watch item<" in cleo.get("/school")
    end(school, "transferred")
    page = cleo.get("/school")
    assert "0 open watch items<" in page
    assert "1 of 1" in page  # the error itself still counts


def test_an_error_that_went_away_did_not_grow(school: TestSchool) -> None:
    fly(school, "s-01", entries=SLIPPED)
    assert "More than chance?" in school.visitor("cleo").get("/school")
    school.clock.pass_days(30)
    fly(school, "s-01")
    page = school.visitor("cleo").get("/school")
    assert "No error is marked more often than the month before." in page
    assert "More than chance?" not in page


def test_no_two_attempts_have_one_number_after_one_was_void(school: TestSchool) -> None:
    first = fly(school, "s-01", outcome="incomplete")
    fly(school, "s-01", outcome="incomplete")
    void(school, first, "The wrong lesson.")
    assert ", attempt 3" not in school.visitor("ben").get(folder(school))
    fly(school, "s-01")
    page = school.visitor("ben").get(folder(school))
    assert (page.count(", attempt 2"), page.count(", attempt 3")) == (1, 1)


def folder(school: TestSchool) -> str:
    """Where Ana's records are listed."""
    return f"/students/{school.enrolment}/records"


def test_hours_shown_add_up_to_the_hours_of_the_whole(school: TestSchool) -> None:
    parts = {"dual": "0:33", "solo": "0:34", "ground": "0.25"}
    record = fly(school, "s-01", times=parts)
    page = school.visitor("ben").get(f"/records/{record}")
    for shown in ("0:33 h", "0:34 h", "0:15 h"):
        assert shown in page
    totals = json.loads(certify(school))["shown"]["totals"]
    told = {one["field"]: hours(one["amount"]) for one in totals}
    assert in_hours(told["dual"]) + in_hours(told["solo"]) == in_hours(told["flight"])


def in_hours(shown: str) -> Fraction:
    """`1.2` or `1:12` as people read it."""
    whole, clock, minutes = shown.partition(":")
    return Fraction(int(whole) * 60 + int(minutes), 60) if clock else Fraction(whole)


def come_back(school: TestSchool) -> None:
    """Ana flies a lesson, leaves, is enrolled a second time and flies it again."""
    fly(school, "s-01", entries=SLIPPED)
    end(school, "transferred")
    with school.database.write() as session:
        day, cleo = school.clock.at.date(), school.act(session, "cleo")
        again = enrolling.Enrol(school.ids["ana"], "small", day, school.ids["ben"])
        school.enrolment = enrolling.enrol(cleo, again).id
    fly(school, "s-01", entries=SLIPPED)


def test_who_comes_back_is_one_student(school: TestSchool) -> None:
    come_back(school)
    cleo = school.visitor("cleo")
    assert "<h1>2 students</h1>" in cleo.get("/students?ended=1")
    page = cleo.get("/school")
    assert 'data-label="Students" class="number">1</td>' in page
    assert "2 of 2" in page


def test_who_comes_back_goes_on_towards_proficiency_as_one_student(school: TestSchool) -> None:
    come_back(school)
    page = school.visitor("cleo").get("/school/progress")
    assert "n = 1 student" in page
    times = page.partition("Attempts to proficiency, the slowest first")[2]
    hover = times.partition('<th scope="row">Hover</th>')[2].partition("</tr>")[0]
    assert 'data-label="Students" class="number">1</td>' in hover
    assert 'data-label="Proficient" class="number"><span>1' in hover


def test_a_fit_counts_who_came_back_once(school: TestSchool) -> None:
    come_back(school)
    cleo = bring_in(school, make(students=20))
    with school.database.write() as session:
        assert needling.refit(session, school.clock.at) is not None
    assert "of 21 students" in cleo.get("/school/instructors")


def test_errors_of_one_lesson_stand_in_the_order_of_the_checklist(school: TestSchool) -> None:
    run_up = Entry("run-up", "perform", "", ("RU-05", "RU-04"))
    entries = (Entry("preflight", "perform", "", ("PF-04",)), run_up, AT_TARGET[2])
    record = fly(school, "s-01", entries=entries)
    words = ("Cover left on", "Selector left on one side", "Drop out of limits accepted")
    ben = school.visitor("ben")
    page = ben.get(f"/students/{school.enrolment}").partition("open watch item")[2]
    places = [page.index(one) for one in words]
    assert places == sorted(places)
    page = ben.get(f"/records/{record}").partition(">Run-up<")[2]
    assert page.index(words[1]) < page.index(words[2])


def test_a_student_of_several_courses_sees_them_by_their_titles(school: TestSchool) -> None:
    come_back(school)
    page = school.visitor("ana").get("/")
    assert page.count(">Small course</a>") == 2
