"""What a lesson leaves open, and what closes it.

Rows are those of standards.md section 9.
"""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gradebook.records.carryover import (
    carried,
)
from gradebook.records.values import LessonFact, Outcome
from syllabus.course import LessonKind
from syllabus.scales import LEFT_BLANK, NOT_OBSERVED
from tests.builders import (
    DAY_ONE,
    MANOEUVRE,
    a_check,
    a_course,
    a_grade,
    a_lesson,
    a_lesson_fact,
    a_stage,
    a_task,
)

LEVELS = ("describe", "explain", "practice", "perform")
FIRST = a_lesson("l-1", {"preflight": "practice", "run-up": "practice"})
SECOND = a_lesson("l-2", {"run-up": "perform", "hover": "explain"})
CHECK = a_check("check", {"run-up": "perform", "hover": "practice"})
COURSE = a_course(
    a_stage(FIRST, SECOND, CHECK), tasks=tuple(map(a_task, ("preflight", "run-up", "hover")))
)


def lesson_one(day: int, preflight: str, run_up: str) -> LessonFact:
    return a_lesson_fact(
        day, a_grade("preflight", preflight, "practice"), a_grade("run-up", run_up, "practice")
    )


def open_tasks(*history: LessonFact) -> dict[str, str]:
    return {one.task: one.target for one in carried(COURSE, history)}


def test_a_task_below_its_target_is_carried_with_its_origin() -> None:  # row 38
    (one,) = carried(COURSE, (lesson_one(1, "practice", "explain"),))
    assert (one.task, one.target, one.why) == ("run-up", "practice", "below standard")
    assert (one.origin_record_id, one.origin_lesson) == ("r1", "l-1")
    assert one.since == DAY_ONE + timedelta(days=1)


@pytest.mark.parametrize(
    ("level", "why"), [(NOT_OBSERVED, "not observed"), (LEFT_BLANK, "left blank")]
)
def test_a_task_without_a_counted_grade_is_carried(level: str, why: str) -> None:  # row 39
    (one,) = carried(COURSE, (lesson_one(1, "practice", level),))
    assert (one.task, one.why) == ("run-up", why)


def test_a_lesson_task_missing_from_the_record_is_carried() -> None:
    (one,) = carried(COURSE, (a_lesson_fact(1, a_grade("preflight", "perform", "practice")),))
    assert (one.task, one.target, one.why) == ("run-up", "practice", "not graded")


def test_a_task_at_its_target_is_not_carried() -> None:
    assert open_tasks(lesson_one(1, "practice", "perform")) == {}


def test_a_later_grade_at_the_target_closes_it() -> None:
    again = lesson_one(2, "practice", "practice")
    assert open_tasks(lesson_one(1, "practice", "explain"), again) == {}


def test_not_observed_closes_nothing() -> None:
    later = lesson_one(2, "practice", NOT_OBSERVED)
    (one,) = carried(COURSE, (lesson_one(1, "practice", "explain"), later))
    assert (one.why, one.origin_record_id) == ("below standard", "r1")


def test_a_grade_below_standard_replaces_a_milder_reason_and_keeps_the_day() -> None:
    history = (lesson_one(1, "practice", NOT_OBSERVED), lesson_one(2, "practice", "explain"))
    (one,) = carried(COURSE, history)
    assert (one.why, one.origin_record_id) == ("below standard", "r2")
    assert one.since == DAY_ONE + timedelta(days=1)


def test_the_highest_open_target_has_to_be_reached() -> None:
    second = a_lesson_fact(
        2, a_grade("run-up", "explain", "perform"), a_grade("hover", "explain", "explain"),
        lesson="l-2",
    )  # fmt: skip
    history = (lesson_one(1, "practice", "explain"), second)
    assert open_tasks(*history) == {"run-up": "perform"}
    assert open_tasks(*history, lesson_one(3, "practice", "practice")) == {"run-up": "perform"}
    assert open_tasks(*history, lesson_one(3, "practice", "perform")) == {}


def test_reaching_the_old_target_but_not_the_new_one_opens_the_new_one() -> None:
    second = a_lesson_fact(
        2, a_grade("run-up", "practice", "perform"), a_grade("hover", "explain", "explain"),
        lesson="l-2",
    )  # fmt: skip
    (one,) = carried(COURSE, (lesson_one(1, "practice", "explain"), second))
    assert (one.target, one.origin_record_id) == ("perform", "r2")
    assert one.since == DAY_ONE + timedelta(days=2)


def test_a_task_failed_in_a_stage_check_is_carried() -> None:
    check = a_lesson_fact(
        5, a_grade("run-up", "practice"), a_grade("hover", "perform", "practice"),
        lesson="check", kind=LessonKind.STAGE_CHECK, outcome=Outcome.FAILED,
    )  # fmt: skip
    assert open_tasks(check) == {"run-up": "perform"}


def test_facts_of_one_day_are_taken_by_sequence() -> None:
    low = a_lesson_fact(1, a_grade("hover", "describe", "explain"), lesson="x", sequence=1)
    high = a_lesson_fact(1, a_grade("hover", "explain", "explain"), lesson="x", sequence=2)
    lower_last = a_lesson_fact(
        1, a_grade("hover", "describe", "explain"), lesson="x", sequence=3
    )
    assert open_tasks(high, low) == {}
    assert open_tasks(lower_last, high) == {"hover": "explain"}


def test_a_task_the_course_no_longer_has_is_left_out() -> None:
    assert open_tasks(a_lesson_fact(1, a_grade("slope", "describe"), lesson="gone")) == {}


GRADED = st.tuples(st.sampled_from([*LEVELS, NOT_OBSERVED]), st.sampled_from(LEVELS))


@given(st.lists(GRADED, max_size=8), st.randoms(use_true_random=False))
def test_it_stays_open_until_a_later_grade_meets_the_highest_target(pairs, random) -> None:
    history = [
        a_lesson_fact(n // 2, a_grade("hover", level, target), lesson="x", sequence=n)
        for n, (level, target) in enumerate(pairs)
    ]
    wanted = 0
    for level, target in pairs:
        reached = MANOEUVRE.rank(level) or 0
        wanted = 0 if reached >= wanted else wanted
        asked = MANOEUVRE.level(target).rank
        wanted = max(wanted, asked) if reached < asked else wanted
    random.shuffle(history)
    still = {
        task: MANOEUVRE.level(target).rank for task, target in open_tasks(*history).items()
    }
    assert still == ({"hover": wanted} if wanted else {})


def test_the_first_record_below_standard_stays_the_origin() -> None:
    history = (lesson_one(1, "practice", "explain"), lesson_one(2, "practice", "describe"))
    (one,) = carried(COURSE, history)
    assert one.origin_record_id == "r1"
