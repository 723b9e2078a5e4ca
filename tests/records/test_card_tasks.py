"""The next lesson, the tasks on its card, and the outcome a card points to.

Rows are those of standards.md section 9.
"""

import pytest

from gradebook.records.carryover import (
    attempt_number,
    card_tasks,
    next_lesson,
    proposed_outcome,
)
from gradebook.records.values import LessonFact, Outcome
from syllabus.scales import DISCONTINUED, LEFT_BLANK, NOT_OBSERVED
from tests.builders import (
    MANOEUVRE,
    SATISFACTORY,
    SRM,
    a_check,
    a_course,
    a_grade,
    a_lesson,
    a_lesson_fact,
    a_mark,
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


def test_the_next_lesson_is_the_first_not_yet_done() -> None:
    assert next_lesson(COURSE, ()) is FIRST
    done = lesson_one(1, "practice", "practice")
    assert next_lesson(COURSE, (done,)) is SECOND


@pytest.mark.parametrize("outcome", [Outcome.INCOMPLETE, Outcome.REPEAT])
def test_an_unfinished_lesson_stays_next(outcome: Outcome) -> None:
    again = a_lesson_fact(1, outcome=outcome)
    assert next_lesson(COURSE, (again,)) is FIRST
    assert attempt_number(FIRST, (again,)) == 2
    assert next_lesson(COURSE, (again, a_lesson_fact(2))) is SECOND


@pytest.mark.parametrize("outcome", [Outcome.FAILED, Outcome.DISCONTINUED])
def test_a_check_not_passed_stays_next(outcome: Outcome) -> None:
    before = (a_lesson_fact(1), a_lesson_fact(2, lesson="l-2"))
    check = a_lesson_fact(3, lesson="check", outcome=outcome)
    assert next_lesson(COURSE, (*before, check)) is CHECK
    passed = a_lesson_fact(4, lesson="check", outcome=Outcome.PASSED)
    assert next_lesson(COURSE, (*before, check, passed)) is None


def test_the_card_shows_carried_tasks_among_its_own_in_flow_order() -> None:
    history = (lesson_one(1, "explain", "practice"),)
    cards = card_tasks(COURSE, SECOND, history)
    assert [card.task for card in cards] == ["preflight", "run-up", "hover"]
    preflight, run_up, hover = cards
    assert preflight.carried is not None
    assert (preflight.in_lesson, preflight.target) == (False, "practice")
    assert (run_up.in_lesson, run_up.target, run_up.carried) == (True, "perform", None)
    assert run_up.last is not None
    assert run_up.last.level == "practice"
    assert hover.last is None


def test_a_task_both_carried_and_asked_has_the_higher_target() -> None:
    second = a_lesson_fact(2, a_grade("run-up", "explain", "perform"), lesson="l-2")
    run_up = card_tasks(COURSE, FIRST, (second,))[1]
    assert (run_up.task, run_up.target, run_up.in_lesson) == ("run-up", "perform", True)


def test_the_last_grade_shown_is_a_counted_one() -> None:
    history = (lesson_one(1, "practice", "practice"), lesson_one(2, "practice", NOT_OBSERVED))
    run_up = next(one for one in card_tasks(COURSE, SECOND, history) if one.task == "run-up")
    assert run_up.last is not None
    assert run_up.last.level == "practice"


def test_a_stage_check_asks_its_own_tasks_only() -> None:
    cards = card_tasks(COURSE, CHECK, (lesson_one(1, "explain", "explain"),))
    assert [(card.task, card.target) for card in cards] == [
        ("run-up", "perform"),
        ("hover", "practice"),
    ]
    assert cards[0].carried is not None


def outcome_of(*levels: str, errors: tuple[str, ...] = ()) -> Outcome:
    tasks = [f"t-{n}" for n in range(len(levels))]
    lesson = a_lesson("l", dict.fromkeys(tasks, "practice"))
    grades = [
        a_grade(task, level, "practice") for task, level in zip(tasks, levels, strict=True)
    ]
    return proposed_outcome(lesson, grades, [a_mark("t-0", code) for code in errors])[0]


@pytest.mark.parametrize(
    ("levels", "errors", "outcome"),
    [
        (("practice", "perform", "practice"), (), Outcome.COMPLETE),
        (("practice", "perform", "explain"), (), Outcome.COMPLETE),  # a third exactly
        (("practice", "explain", "explain"), (), Outcome.REPEAT),
        (("practice", "perform", "practice"), ("RU-04",), Outcome.REPEAT),
        (("practice", "perform", "practice"), ("RU-01", "RU-03"), Outcome.COMPLETE),
        (("practice", "perform", NOT_OBSERVED), (), Outcome.INCOMPLETE),
        (("explain", "explain", LEFT_BLANK), ("RU-04",), Outcome.INCOMPLETE),
    ],
)
def test_the_outcome_follows_the_grades(
    levels: tuple[str, ...], errors: tuple[str, ...], outcome: Outcome
) -> None:
    assert outcome_of(*levels, errors=errors) is outcome


def test_a_carried_task_does_not_make_the_lesson_incomplete() -> None:
    grades = [
        a_grade("run-up", "perform"),
        a_grade("hover", "explain", "explain"),
        a_grade("preflight", LEFT_BLANK, "practice"),
    ]
    assert proposed_outcome(SECOND, grades, ()) == (Outcome.COMPLETE, "All 2 tasks at target.")


@pytest.mark.parametrize(
    ("levels", "outcome"),
    [
        (("satisfactory", "satisfactory"), Outcome.PASSED),
        (("satisfactory", "unsatisfactory"), Outcome.FAILED),
        ((DISCONTINUED, "unsatisfactory"), Outcome.FAILED),
        (("satisfactory", DISCONTINUED), Outcome.DISCONTINUED),  # row 45: weather half-way
    ],
)
def test_a_check_is_passed_failed_or_discontinued(
    levels: tuple[str, str], outcome: Outcome
) -> None:
    check = a_check("check", {"a": "satisfactory", "b": "satisfactory"})
    grades = [
        a_grade(task, level, "satisfactory", SATISFACTORY)
        for task, level in zip("ab", levels, strict=True)
    ]
    assert proposed_outcome(check, grades, ())[0] is outcome


def test_a_level_belongs_to_its_own_scale() -> None:  # row 40
    assert SRM.accepts("manage-decide")
    assert not MANOEUVRE.accepts("manage-decide")


def test_the_reason_for_a_repeat_names_the_errors() -> None:
    grades = [a_grade("run-up", "perform"), a_grade("hover", "explain", "explain")]
    one, two = [a_mark("hover", "RU-04")], [a_mark("hover", "RU-04")] * 2
    assert proposed_outcome(SECOND, grades, one)[1] == "1 safety-critical error marked."
    assert proposed_outcome(SECOND, grades, two)[1] == "2 safety-critical errors marked."
