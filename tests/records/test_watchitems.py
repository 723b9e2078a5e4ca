"""When an error is watched and what closes the watch; figures of analytics.md section 3."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from gradebook.records.values import ErrorFact, LessonFact
from gradebook.records.watchitems import WatchRules, clean_needed, false_alarm, watch_items
from syllabus.errors import Severity
from syllabus.scales import NOT_OBSERVED
from tests.builders import DAY_ONE, a_decision, a_grade, a_lesson_fact, a_mark

CRITICAL, PROCEDURAL, TECHNIQUE = "RU-04", "RU-01", "RU-03"


def flown(pattern: str, error: str = PROCEDURAL, first: int = 0) -> tuple[LessonFact, ...]:
    """One lesson a day: `x` marked, `.` clean, `-` task not observed."""
    history = []
    for day, sign in enumerate(pattern, first):
        level = NOT_OBSERVED if sign == "-" else "practice"
        errors = (a_mark("run-up", error),) if sign == "x" else ()
        history.append(a_lesson_fact(day, a_grade("run-up", level), errors=errors))
    return tuple(history)


def test_a_safety_critical_error_opens_at_its_first_mark() -> None:
    (item,) = watch_items(flown(".x", CRITICAL), ())
    assert item.is_open
    assert (item.opened_by_record, item.severity) == ("r1", Severity.SAFETY_CRITICAL)
    assert item.opened_on == DAY_ONE + timedelta(days=1)
    assert (item.marks, item.opportunities, item.needed_clean) == (1, 1, 9)


@pytest.mark.parametrize("error", [PROCEDURAL, TECHNIQUE])
@pytest.mark.parametrize(
    ("pattern", "opens"),
    [("xx", False), ("xxx", True), ("x.x.x", True), ("xx...x", False), ("x.x..x", False)],
)
def test_other_errors_open_at_three_of_the_last_five(
    error: str, pattern: str, *, opens: bool
) -> None:
    assert bool(watch_items(flown(pattern, error), ())) is opens


def test_opening_says_how_often() -> None:
    (item,) = watch_items(flown("x.x.x"), ())
    assert item.why_opened == "Marked in 3 of the last 5 opportunities"
    assert (item.opened_by_record, item.marks, item.opportunities) == ("r4", 3, 5)


def test_lessons_where_the_task_was_not_seen_are_no_opportunities() -> None:
    assert watch_items(flown("x--x---x"), ()) != ()
    (item,) = watch_items(flown("x........-", CRITICAL), ())
    assert item.clean_opportunities == 8


def test_a_marked_task_is_an_opportunity_even_without_a_grade() -> None:
    marks = (a_mark("run-up", PROCEDURAL),)
    history = tuple(a_lesson_fact(day, errors=marks) for day in range(3))
    assert len(watch_items(history, ())) == 1
    other = a_lesson_fact(3, errors=(a_mark("run-up", TECHNIQUE),))
    assert watch_items((*history, other), ())[0].clean_opportunities == 1


def test_one_lesson_counts_one_mark() -> None:
    twice = (a_mark("run-up", PROCEDURAL), a_mark("run-up", PROCEDURAL))
    history = tuple(
        a_lesson_fact(day, a_grade("run-up", "practice"), errors=twice) for day in range(2)
    )
    assert watch_items(history, ()) == ()


def test_nine_clean_opportunities_close_a_procedural_item() -> None:
    (still,) = watch_items(flown("xxx" + "." * 8), ())
    assert still.is_open
    (closed,) = watch_items(flown("xxx" + "." * 9), ())
    assert closed.closed_on == DAY_ONE + timedelta(days=11)
    assert closed.why_closed == "9 clean lessons in a row"
    assert (closed.marks, closed.opportunities) == (3, 12)


def test_a_mark_starts_the_clean_run_again() -> None:
    (item,) = watch_items(flown("xxx" + "." * 8 + "x" + "." * 4), ())
    assert (item.is_open, item.clean_opportunities) == (True, 4)


def test_a_decision_closes_a_procedural_item_with_its_reason() -> None:
    (item,) = watch_items(flown("xxx."), [a_decision(5, PROCEDURAL)])
    assert item.closed_on == DAY_ONE + timedelta(days=5)
    assert item.why_closed == "Decided by an instructor: shown to be under control"


def test_a_decision_made_before_the_item_opened_says_nothing() -> None:
    (item,) = watch_items(flown("xxx."), [a_decision(1, PROCEDURAL)])
    assert item.is_open


@pytest.mark.parametrize(
    ("clean", "decided", "closed_day"),
    [
        (9, None, None),
        (8, 4, None),
        (9, 4, 9),  # decision first, then the evidence
        (9, 20, 20),  # evidence first, then the decision
    ],
)
def test_a_safety_critical_item_needs_evidence_and_a_decision(
    clean: int, decided: int | None, closed_day: int | None
) -> None:
    decisions = [] if decided is None else [a_decision(decided, CRITICAL)]
    (item,) = watch_items(flown("x" + "." * clean, CRITICAL), decisions)
    expected = None if closed_day is None else DAY_ONE + timedelta(days=closed_day)
    assert item.closed_on == expected


def test_a_mark_after_the_decision_makes_the_decision_void() -> None:
    history = flown("x...x" + "." * 9, CRITICAL)
    (item,) = watch_items(history, [a_decision(2, CRITICAL)])
    assert item.is_open
    (closed,) = watch_items(history, [a_decision(2, CRITICAL), a_decision(6, CRITICAL)])
    assert closed.closed_on == DAY_ONE + timedelta(days=13)


def test_a_decision_of_the_day_of_a_mark_stands_after_it() -> None:
    (item,) = watch_items(flown("xxx"), [a_decision(2, PROCEDURAL)])
    assert not item.is_open


def test_a_later_mark_opens_a_new_item() -> None:
    history = flown("x" + "." * 9 + "x", CRITICAL)
    old, new = watch_items(history, [a_decision(3, CRITICAL)])
    assert (old.is_open, new.is_open) == (False, True)
    assert new.opened_by_record == "r10"


def test_a_habit_decided_closed_opens_again_at_its_next_mark_in_the_window() -> None:
    old, new = watch_items(flown("xxx.x"), [a_decision(2, PROCEDURAL)])
    assert not old.is_open
    assert new.why_opened == "Marked in 4 of the last 5 opportunities"


def test_the_rules_can_be_changed() -> None:
    (item,) = watch_items(flown("x.x"), (), WatchRules(marks=2, opportunities=3, target=0.2))
    assert item.needed_clean == 14


def test_the_order_of_the_facts_does_not_matter() -> None:
    history = flown("x.xx.........")
    assert watch_items(history[::-1], ()) == watch_items(history, ())


@pytest.mark.parametrize(("target", "n"), [(0.30, 9), (0.20, 14), (0.10, 29)])
def test_clean_opportunities_needed(target: float, n: int) -> None:  # analytics.md section 3
    assert clean_needed(target) == n


@given(st.floats(0.01, 0.95), st.floats(0.5, 0.999))
def test_no_fewer_clean_opportunities_would_do(target: float, confidence: float) -> None:
    n = clean_needed(target, confidence)
    assert 1 - (1 - confidence) ** (1 / n) < target
    assert n == 1 or 1 - (1 - confidence) ** (1 / (n - 1)) >= target


def test_a_target_outside_zero_and_one_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        clean_needed(1.0)


@pytest.mark.parametrize(("k", "n", "chance"), [(2, 5, 0.0226), (3, 6, 0.0022)])
def test_false_alarms_at_a_true_rate_of_five_percent(k: int, n: int, chance: float) -> None:
    assert round(false_alarm(k, n, 0.05), 4) == chance  # analytics.md section 3


@given(st.integers(0, 12), st.integers(1, 12), st.floats(0, 1))
def test_false_alarms_agree_with_scipy(k: int, n: int, p: float) -> None:
    assert false_alarm(k, n, p) == pytest.approx(binom.sf(k - 1, n, p), abs=1e-9)


def test_a_watched_error_marked_safety_critical_later_needs_both_from_then_on() -> None:
    grave = ErrorFact("run-up", PROCEDURAL, Severity.SAFETY_CRITICAL)
    history = (
        *flown("xxx"),
        a_lesson_fact(3, a_grade("run-up", "practice"), errors=(grave,)),
        *flown("." * 9, first=4),
    )
    (item,) = watch_items(history, ())
    assert (item.is_open, item.is_critical, item.has_evidence) == (True, True, True)
