"""Weak items, trends, error rates and stalls."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from gradebook.records.carryover import carried
from gradebook.records.errorrates import compare_periods, error_rates, month_of
from gradebook.records.progress import WeakItem, stalled, task_series, weak_items
from gradebook.records.values import ErrorFact, GradeFact, LessonFact, Times
from gradebook.records.watchitems import watch_items
from syllabus.errors import Severity
from syllabus.scales import NOT_OBSERVED
from tests.builders import (
    DAY_ONE,
    MANOEUVRE,
    a_check,
    a_course,
    a_grade,
    a_lesson,
    a_lesson_fact,
    a_mark,
    a_stage,
    a_task,
)

LESSON = a_lesson("l-1", {})
NEXT = a_lesson("l-2", {"hover": "perform", "slope": "explain"})
COURSE = a_course(
    a_stage(LESSON, NEXT, a_check("check", {"run-up": "perform"})),
    tasks=tuple(map(a_task, ("run-up", "hover", "slope", "landing"))),
)


def weak(*history: LessonFact) -> tuple[WeakItem, ...]:
    return weak_items(COURSE, history, watch_items(history, ()), carried(COURSE, history))


def test_a_student_without_weak_items_is_told_of_none() -> None:
    assert weak(a_lesson_fact(1, a_grade("run-up", "perform"))) == ()


def test_safety_comes_before_standard_before_a_low_share() -> None:
    history = (
        a_lesson_fact(1, a_grade("slope", "explain"), a_grade("landing", NOT_OBSERVED)),
        a_lesson_fact(2, a_grade("slope", "explain"), a_grade("hover", "practice")),
        a_lesson_fact(3, a_grade("slope", "perform")),
        a_lesson_fact(4, a_grade("run-up", "perform"), errors=(a_mark("run-up", "RU-04"),)),
    )
    assert [item.task for item in weak(*history)] == ["run-up", "hover", "landing", "slope"]


def test_a_safety_critical_item_outweighs_everything_else() -> None:
    marks = tuple(a_mark("hover", code) for code in ("RU-01", "RU-03"))
    history = (
        *(a_lesson_fact(day, a_grade("hover", "describe"), errors=marks) for day in range(3)),
        a_lesson_fact(4, a_grade("slope", "perform"), errors=(a_mark("slope", "RU-04"),)),
    )
    assert [item.task for item in weak(*history)] == ["slope", "hover"]


def test_a_weak_item_says_why_in_plain_words() -> None:
    history = (
        a_lesson_fact(1, a_grade("hover", "practice"), errors=(a_mark("hover", "RU-04"),)),
        a_lesson_fact(2, a_grade("hover", "practice")),
        a_lesson_fact(3, a_grade("hover", "explain")),
    )
    (item,) = weak(*history)
    assert item.why == (
        "Safety-critical error: Leaves the magneto selector on one side. It closes after "
        "7 more clean lessons in a row and your instructor's decision.",
        "Carried over from Lesson l-1: below standard. Reach Perform to close it.",
        "Last grade Explain; the target was Perform.",
        "Reached the target in 0 of 3 lessons.",
    )
    assert item.last is not None
    assert item.last.level == "explain"


def test_a_weak_item_counts_its_grades_with_an_interval() -> None:
    levels = ("practice", "perform", NOT_OBSERVED, "practice")
    history = tuple(
        a_lesson_fact(day, a_grade("hover", level)) for day, level in enumerate(levels)
    )
    (item,) = weak(*history)
    assert (item.n, item.met) == (3, 1)
    theirs = proportion_confint(1, 3, method="wilson")
    assert (item.low, item.high) == pytest.approx(theirs)


def test_the_target_is_what_is_carried_or_comes_next() -> None:
    low_share = tuple(
        a_lesson_fact(day, a_grade("slope", level, "practice"))
        for day, level in enumerate(("explain", "explain", "practice"))
    )
    (slope,) = weak(*low_share)
    assert slope.target == "explain"  # lesson l-2 asks for it next
    (still,) = weak(low_share[0])
    assert still.target == "practice"


def test_a_series_keeps_every_result_in_order() -> None:
    history = (
        a_lesson_fact(2, a_grade("hover", NOT_OBSERVED)),
        a_lesson_fact(1, a_grade("hover", "practice")),
        a_lesson_fact(3, a_grade("slope", "perform")),
    )
    first, second = task_series(history, "hover")
    assert (first.record_id, first.rank, first.met) == ("r1", 3, False)
    assert (second.record_id, second.rank, second.met) == ("r2", None, None)
    assert (first.lesson, first.instructor, first.on) == ("l-1", "ina", date(2026, 3, 2))


def marked(day: int, *errors: str) -> LessonFact:
    marks = tuple(a_mark("run-up", code) for code in errors)
    return a_lesson_fact(day, a_grade("run-up", "practice"), errors=marks)


def test_an_error_is_counted_against_its_opportunities() -> None:
    unseen = a_lesson_fact(9, a_grade("run-up", NOT_OBSERVED))
    history = (marked(1, "RU-03", "RU-03"), marked(2, "RU-03", "RU-01"), marked(3), unseen)
    first, second = error_rates([history])
    assert (first.error, first.marks, first.opportunities) == ("RU-03", 2, 3)
    assert (second.error, second.marks, second.opportunities) == ("RU-01", 1, 3)
    assert (first.low, first.high) == pytest.approx(proportion_confint(2, 3, method="wilson"))


def test_a_school_counts_students_and_lessons() -> None:
    (rate,) = error_rates([(marked(1, "RU-03"), marked(2, "RU-03")), (marked(1, "RU-03"),)])
    assert (rate.marks, rate.opportunities, rate.students, rate.rate) == (3, 3, 2, 1.0)


def test_this_month_is_set_against_the_month_before() -> None:
    now = month_of(date(2026, 4, 15))
    before = month_of(date(2026, 4, 15), -1)
    assert (before.first, before.last) == (date(2026, 3, 1), date(2026, 3, 31))
    march = tuple(marked(day) for day in range(31))
    april = tuple(marked(day, "RU-03") for day in range(31, 61))
    (change,) = compare_periods([march + april], now, before)
    assert (change.before.marks, change.before.opportunities) == (0, 31)
    assert (change.now.marks, change.now.opportunities) == (30, 30)
    assert (change.change, change.is_clear) == (1.0, True)


def test_a_change_within_chance_is_not_called_clear() -> None:
    history = (marked(1), marked(2), marked(31, "RU-03"), marked(32))
    (change,) = compare_periods(
        [history], month_of(date(2026, 4, 1)), month_of(date(2026, 3, 1))
    )
    assert (change.change, change.is_clear) == (0.5, False)


def test_errors_that_grew_most_come_first() -> None:
    history = (marked(1, "RU-01"), marked(2), marked(31, "RU-03"), marked(32, "RU-03"))
    changes = compare_periods([history], month_of(date(2026, 4, 1)), month_of(date(2026, 3, 1)))
    assert [one.now.error for one in changes] == ["RU-03", "RU-01"]


@pytest.mark.parametrize(
    ("days", "review", "notice"),
    [(14, False, False), (15, True, False), (30, True, False), (31, True, True)],
)
def test_a_gap_in_flying_is_noticed(days: int, *, review: bool, notice: bool) -> None:  # W-10
    ground = a_lesson_fact(5, times=Times(ground=60))
    stall = stalled((a_lesson_fact(0), ground), DAY_ONE + timedelta(days=days))
    assert (stall.days, stall.last_flight_on) == (days, DAY_ONE)
    assert (stall.wants_review, stall.wants_notice) == (review, notice)


def test_a_student_who_has_not_flown_yet_has_no_gap() -> None:
    stall = stalled((), DAY_ONE)
    assert (stall.days, stall.wants_review, stall.plateaus) == (None, False, ())


@pytest.mark.parametrize(
    ("levels", "n"),
    [
        (("practice",) * 3, 3),  # W-21: three the same below target
        (("explain", "practice", "practice", NOT_OBSERVED, "practice"), 3),
        (("practice",) * 2, 0),
        (("practice", "practice", "explain"), 0),
        (("perform",) * 4, 0),
        (("practice",) * 3 + ("perform",), 0),
    ],
)
def test_the_same_low_grade_three_times_is_a_plateau(levels: tuple[str, ...], n: int) -> None:
    history = tuple(
        a_lesson_fact(day, a_grade("hover", level)) for day, level in enumerate(levels)
    )
    plateaus = stalled(history, DAY_ONE).plateaus
    assert [one.n for one in plateaus] == ([n] if n else [])


LEVEL = st.sampled_from(["describe", "explain", "practice", "perform", NOT_OBSERVED])


@given(st.lists(LEVEL, max_size=7))
def test_a_task_below_its_target_last_time_is_always_among_the_weak(levels: list[str]) -> None:
    history = tuple(
        a_lesson_fact(day, a_grade("hover", level)) for day, level in enumerate(levels)
    )
    counted = [level for level in levels if level != NOT_OBSERVED]
    below = bool(counted) and not MANOEUVRE.meets(counted[-1])
    if below:
        assert [item.task for item in weak(*history)] == ["hover"]
    elif counted and levels[-1] != NOT_OBSERVED:
        assert all("below standard" not in why for item in weak(*history) for why in item.why)


def test_codes_of_another_revision_are_shown_as_they_are() -> None:
    strange = ErrorFact("hover", "HT-99", Severity.SAFETY_CRITICAL)
    grade = GradeFact("hover", "solo-standard", 1, "perform", meets=False)
    history = (a_lesson_fact(1, grade, errors=(strange,), lesson="gone"),)
    (item,) = weak(*history)
    assert item.why[0].startswith("Safety-critical error: HT-99.")
    assert item.why[1].startswith("Carried over from gone: below standard.")
    assert item.why[2] == "Last grade solo-standard; the target was Perform."
