"""Readiness for a stage check: each requirement met or not, and what it rests on."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from gradebook.records.readiness import StudentFile, readiness
from gradebook.records.values import Outcome, Readiness, Times, Verdict
from syllabus.checklist import AircraftType
from syllabus.course import Event, HourMinimum, LessonKind
from syllabus.requirements import RequirementSet, Rule
from syllabus.scales import DISCONTINUED, NOT_OBSERVED
from syllabus.standards import Bounds
from tests.builders import (
    DAY_ONE,
    a_check,
    a_course,
    a_decision,
    a_grade,
    a_lesson,
    a_lesson_fact,
    a_mark,
    a_stage,
    a_task,
    an_event,
)

ON = DAY_ONE + timedelta(days=20)
PREPARATION = Rule(
    "prep", "Test preparation", "preparation", Bounds(at_least=1), "h", "14 CFR 61.109(c)(3)"
)
STAGE = a_stage(
    a_lesson("l-1", {"run-up": "practice"}),
    a_lesson("l-2", {"run-up": "perform", "hover": "practice"}),
    a_check("check", {"run-up": "perform"}),
    hours=(HourMinimum("dual", Bounds(at_least=2.9), "school"),),
    events=(Event("solo", "Solo endorsement", "endorsement", "14 CFR 61.87(n)"),),
    tests=(Event("written", "Pre-solo test", "test", "14 CFR 61.87(b)"),),
    requirements="61.109(c)",
)
COURSE = a_course(
    STAGE,
    tasks=(a_task("run-up"), a_task("hover")),
    requirement_sets=(
        RequirementSet("61.109(c)", "Hours", "14 CFR 61.109(c)", "", "", "", (PREPARATION,)),
    ),
)
ONE = a_lesson_fact(1, a_grade("run-up", "perform", "practice"), times=Times(dual=90))
TWO = a_lesson_fact(
    2, a_grade("run-up", "perform"), a_grade("hover", "practice", "practice"),
    lesson="l-2", times=Times(dual=84, test_preparation=True),
)  # fmt: skip
READY = StudentFile(
    (ONE, TWO), (an_event("solo", 3, expires=93), an_event("written", 3, kind="test"))
)


def judged(file: StudentFile, on: date = ON) -> Readiness:
    return readiness(COURSE, STAGE, file, on)


def verdict(file: StudentFile, code: str, on: date = ON) -> Verdict:
    return next(one for one in judged(file, on).verdicts if one.code == code)


def missing(file: StudentFile, on: date = ON) -> list[str]:
    return [one.code for one in judged(file, on).missing]


def test_a_complete_file_is_ready_and_shows_every_group() -> None:
    ready = judged(READY)
    assert ready.ready
    assert list(ready.by_group()) == ["tasks", "hours", "events", "tests", "watch", "records"]
    assert all(one.citation and one.have and one.need for one in ready.verdicts)


def test_a_task_rests_on_the_records_of_its_last_grades() -> None:
    task = verdict(READY, "run-up")
    assert [one.record_id for one in task.evidence] == ["r1", "r2"]
    assert task.evidence[0].words == "Lesson l-1: Perform"
    assert (task.have, task.need) == (
        "last graded Perform, then Perform",
        "Perform in the last 2 lessons",
    )
    assert task.citation == "standard of run-up"


def test_one_good_lesson_is_not_enough() -> None:  # W-06 of standards.md section 8
    once = replace(ONE, grades=(a_grade("run-up", "practice", "practice"),))
    assert missing(replace(READY, history=(once, TWO))) == ["run-up"]


def test_a_weak_last_grade_is_not_averaged_away() -> None:  # W-05: 4, 4, 4, 2 is not ready
    good = tuple(
        a_lesson_fact(day, a_grade("run-up", "perform", "practice")) for day in (4, 5, 6)
    )
    weak = a_lesson_fact(7, a_grade("run-up", "explain", "explain"))
    file = replace(READY, history=(ONE, TWO, *good, weak))
    task = verdict(file, "run-up")
    assert (task.met, task.have) == (False, "last graded Perform, then Explain")


def test_not_observed_does_not_break_a_run() -> None:
    unseen = a_lesson_fact(1, a_grade("run-up", NOT_OBSERVED), sequence=9, lesson="extra")
    assert verdict(replace(READY, history=(ONE, unseen, TWO)), "run-up").met


def test_a_task_never_graded_says_so() -> None:
    task = verdict(StudentFile(()), "run-up")
    assert (task.met, task.have, task.evidence) == (False, "Not graded yet", ())


def test_stage_hours_are_counted_to_the_minute() -> None:
    dual = verdict(READY, "dual")
    assert (dual.met, dual.have, dual.need) == (True, "2.9 h", "at least 2.9 h")
    assert [one.words for one in dual.evidence] == ["Lesson l-1: 1.5 h", "Lesson l-2: 1.4 h"]
    short = replace(TWO, times=Times(dual=83, test_preparation=True))
    assert missing(replace(READY, history=(ONE, short))) == ["dual"]


def test_the_requirement_set_is_judged_on_the_day() -> None:
    late = date(2026, 6, 1)  # preparation flown on 3 March is too old
    prep = verdict(replace(READY, events=()), "prep", late)
    assert not prep.met
    why = {one.record_id: one.words for one in prep.not_counted}
    assert why["r1"] == "Lesson l-1: not test preparation"
    assert why["r2"] == "Lesson l-2: outside its window, 2026-04-01 to 2026-06-01"


@pytest.mark.parametrize(
    ("test_type", "counted"), [("", ["r1"]), ("tystie", ["r1"]), ("dunlin", ["r2"])]
)
def test_hours_on_the_type_of_the_test_are_those_flown_on_it(test_type, counted) -> None:
    rule = Rule("type", "On type", "on-type", Bounds(at_least=1), "h", "FCL.210.H")
    asked = RequirementSet("61.109(c)", "Hours", "FCL.210.H", "", "", "", (rule,), 0, test_type)
    first = AircraftType("tystie", "Tystie", "RH", "", (), (), (), ())
    course = replace(COURSE, requirement_sets=(asked,), aircraft=(first,))
    flown = replace(ONE, aircraft="tystie"), replace(TWO, aircraft="dunlin")
    found = readiness(course, STAGE, replace(READY, history=flown), ON)
    (on_type,) = [one for one in found.verdicts if one.code == "type"]
    assert [one.record_id for one in on_type.evidence] == counted
    assert [one.words for one in on_type.not_counted if "type" in one.words]


@pytest.mark.parametrize(
    ("events", "have"),
    [
        ((), "Not on file"),
        ((an_event("solo", 1, expires=19),), "Expired on 20 Mar 2026"),
        ((an_event("solo", 30),), "Dated 31 Mar 2026, after this day"),
    ],
)
def test_an_endorsement_has_to_be_on_file_and_live(events: tuple[()], have: str) -> None:
    solo = verdict(replace(READY, events=events), "solo")
    assert (solo.met, solo.have) == (False, have)


def test_an_endorsement_holds_through_its_last_day() -> None:
    file = replace(READY, events=(an_event("solo", 1, expires=20),))
    assert verdict(file, "solo").met
    assert verdict(file, "solo").have == "On file since 2 Mar 2026, through 21 Mar 2026"
    assert not verdict(file, "solo", ON + timedelta(days=1)).met


def test_an_older_filing_that_still_holds_counts() -> None:
    file = replace(READY, events=(an_event("solo", 1), an_event("solo", 5, expires=6)))
    assert verdict(file, "solo").evidence[0].record_id == "e-solo-1"


def test_of_two_that_hold_the_one_that_holds_longer_is_shown() -> None:
    file = replace(
        READY, events=(an_event("solo", 1, expires=90), an_event("solo", 5, expires=60))
    )
    assert verdict(file, "solo").have == "On file since 2 Mar 2026, through 30 May 2026"
    assert verdict(file, "solo").evidence[0].record_id == "e-solo-1"


def test_a_test_has_to_be_passed() -> None:
    failed = an_event("written", 3, kind="test", passed=False)
    file = replace(READY, events=(READY.events[0], failed))
    assert missing(file) == ["written"]
    assert verdict(file, "written").have == "Not passed on 4 Mar 2026"


def test_an_open_safety_critical_item_is_named_first() -> None:
    marks = (a_mark("run-up", "RU-04"),)
    file = replace(READY, history=(ONE, replace(TWO, errors=marks)))
    (item,) = judged(file).missing
    assert item.words == "Safety-critical: Leaves the magneto selector on one side (Run up)"
    assert item.have == "Open since 3 Mar 2026, 0 of 9 clean lessons"
    assert item.need == "9 clean lessons in a row and an instructor's decision"
    assert item.evidence[0].record_id == "r2"


def test_a_closed_watch_item_is_in_nobodys_way() -> None:
    clean = tuple(
        a_lesson_fact(day, a_grade("run-up", "perform", "practice")) for day in range(3, 12)
    )
    marked = replace(TWO, errors=(a_mark("run-up", "RU-04"),))
    file = replace(READY, history=(ONE, marked, *clean), decisions=(a_decision(3, "RU-04"),))
    assert judged(file).ready


def test_an_unsigned_draft_stands_in_the_way() -> None:  # W-01
    assert missing(replace(READY, unsigned=1)) == ["unsigned"]
    assert verdict(replace(READY, unsigned=1), "unsigned").have == "1 unsigned lesson"


def test_an_unacknowledged_record_is_pointed_to() -> None:
    file = replace(READY, history=(ONE, replace(TWO, acknowledged=False)))
    assert missing(file) == ["unacknowledged"]
    assert [one.record_id for one in verdict(file, "unacknowledged").evidence] == ["r2"]


def test_open_carry_over_stands_in_the_way() -> None:
    weak = replace(
        TWO, grades=(a_grade("run-up", "perform"), a_grade("hover", "explain", "practice"))
    )
    file = replace(READY, history=(ONE, weak))
    assert missing(file) == ["carry-over"]
    carry = verdict(file, "carry-over").evidence[0]
    assert (carry.words, carry.record_id) == ("Hover: below standard, to reach Practice", "r2")


def test_every_lesson_before_the_check_has_to_be_complete() -> None:  # W-03
    file = replace(READY, history=(ONE, replace(TWO, outcome=Outcome.INCOMPLETE)))
    assert missing(file) == ["lessons"]
    lessons = verdict(file, "lessons")
    assert (lessons.have, lessons.evidence[0].words) == (
        "1 of 2 lessons",
        "Lesson l-2: not complete",
    )


def test_a_discontinued_check_does_not_stand_in_its_own_way() -> None:  # row 45
    check = a_lesson_fact(
        8, a_grade("run-up", DISCONTINUED), lesson="check", kind=LessonKind.STAGE_CHECK,
        outcome=Outcome.DISCONTINUED,
    )  # fmt: skip
    assert judged(replace(READY, history=(ONE, TWO, check))).ready


def test_a_failed_check_has_to_be_made_good_first() -> None:
    check = a_lesson_fact(
        8, a_grade("run-up", "practice"), lesson="check", kind=LessonKind.STAGE_CHECK,
        outcome=Outcome.FAILED,
    )  # fmt: skip
    failed = (ONE, TWO, check)
    assert missing(replace(READY, history=failed)) == ["run-up", "carry-over"]
    again = tuple(a_lesson_fact(day, a_grade("run-up", "perform")) for day in (9, 10))
    assert judged(replace(READY, history=(*failed, *again))).ready


def test_readiness_looks_no_further_than_its_day() -> None:
    weak = a_lesson_fact(30, a_grade("run-up", "describe", "practice"))
    file = replace(READY, history=(ONE, TWO, weak))
    assert judged(file).ready
    assert not judged(file, DAY_ONE + timedelta(days=30)).ready


def test_what_is_filed_on_the_day_counts_on_the_day() -> None:
    file = replace(READY, events=(READY.events[1], an_event("solo", 20)))
    assert verdict(file, "solo").met


def test_a_filing_without_words_is_named_after_what_it_is_for() -> None:
    bare = replace(READY.events[0], words="")
    said = verdict(replace(READY, events=(bare, READY.events[1])), "solo")
    assert said.evidence[0].words == "Solo endorsement"
    assert said.need == "On file and not expired"
    assert verdict(READY, "written").need == "Passed and not expired"
    assert verdict(READY, "written").evidence[0].words == "written"
