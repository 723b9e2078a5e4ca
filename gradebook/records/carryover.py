"""What a lesson leaves open, what comes next, and what goes on its card. Pure."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import NamedTuple

from gradebook.formats import count
from gradebook.records.values import (
    ErrorFact,
    GradeFact,
    History,
    LessonFact,
    Outcome,
    in_order,
)
from syllabus.course import Course, Lesson, LessonKind
from syllabus.errors import Severity
from syllabus.saying import say, say_n, within
from syllabus.scales import NOT_COUNTED_WORDS

BELOW = say("below standard")
NOT_GRADED = say("not graded")
CLOSING = (Outcome.COMPLETE, Outcome.PASSED)


@dataclass(frozen=True, slots=True)
class CarriedTask:
    """A task still open from an earlier lesson, and the level that will close it.

    The origin is the record that asked for this target and did not see it met; `since` is the
    day the task first fell open and has stayed so. `why`: `below standard`, `not observed`,
    `left blank`, `incomplete`, `discontinued` or `not graded`.
    """

    task: str
    target: str
    origin_record_id: str
    origin_lesson: str
    since: date
    why: str


@dataclass(frozen=True, slots=True)
class CardTask:
    """A task on a lesson's card: its target, what is carried, and the last counted grade."""

    task: str
    target: str
    carried: CarriedTask | None
    last: GradeFact | None
    in_lesson: bool


class _Result(NamedTuple):
    """One task of one record: what was asked and what was seen (rank None: nothing)."""

    task: str
    target: str
    rank: int | None
    why: str


def carried(course: Course, history: History) -> tuple[CarriedTask, ...]:
    """Every task a lesson left open, in flow order.

    A task below its target, not counted, or on the lesson but not on the record stays open
    until a later counted grade reaches the highest target open. Tasks and levels the course
    (another revision, perhaps) no longer has are left out.
    """
    standing: dict[str, CarriedTask] = {}
    for fact in in_order(history):
        for result in _results(course, fact):
            still = _after(course, standing.pop(result.task, None), fact, result)
            if still is not None:
                standing[result.task] = still
    return tuple(sorted(standing.values(), key=lambda one: course.flow_place[one.task]))


def _results(course: Course, fact: LessonFact) -> Iterator[_Result]:
    for grade in fact.grades:
        if grade.task in course.task_by_code:
            why = BELOW if grade.rank is not None else NOT_COUNTED_WORDS.get(grade.level, "")
            yield _Result(
                grade.task, grade.target, grade.rank, within(why) if why else NOT_GRADED
            )
    lesson = course.lesson_by_code.get(fact.lesson)
    graded = {grade.task for grade in fact.grades}
    for asked in lesson.tasks if lesson else ():
        if asked.task not in graded:
            yield _Result(asked.task, asked.target, None, NOT_GRADED)


def _after(
    course: Course, before: CarriedTask | None, fact: LessonFact, result: _Result
) -> CarriedTask | None:
    """What is open of a task after one more result."""
    wanted = _rank(course, result.task, result.target)
    if before is not None and _reaches(result.rank, _rank(course, before.task, before.target)):
        before = None
    if _reaches(result.rank, wanted):
        return before
    now = CarriedTask(
        result.task, result.target, fact.record_id, fact.lesson, fact.flown_on, result.why
    )
    if before is None:
        return now
    open_rank = _rank(course, before.task, before.target)
    graver = result.why == BELOW and before.why != BELOW
    if wanted > open_rank or (wanted == open_rank and graver):
        return replace(now, since=before.since)
    return before


def _reaches(rank: int | None, wanted: int) -> bool:
    return rank is not None and rank >= wanted


def _rank(course: Course, task: str, target: str) -> int:
    """Rank of a target; of the standard where the scale no longer has that level."""
    scale = course.task_by_code[task].scale
    rank = scale.rank(target)
    return scale.level(scale.standard).rank if rank is None else rank


def completed(history: History) -> set[str]:
    """The lessons completed and checks passed, by code."""
    return {fact.lesson for fact in history if fact.outcome in CLOSING}


def next_lesson(course: Course, history: History) -> Lesson | None:
    """The first lesson, in course order, never completed or passed; None at the end."""
    done = completed(history)
    return next((lesson for lesson in course.lessons if lesson.code not in done), None)


def attempt_number(lesson: Lesson, history: History) -> int:
    """Number of the coming attempt at a lesson; 1 is the first.

    One more than the highest there is, which is not their count once one was declared void.
    """
    made = [fact.attempt for fact in history if fact.lesson == lesson.code]
    return 1 + max([len(made), *made])


def card_tasks(course: Course, lesson: Lesson, history: History) -> tuple[CardTask, ...]:
    """The tasks of a lesson's card, carried ones among them, in flow order.

    A task both in the lesson and carried asks the higher of the two targets. A stage check asks
    exactly its own tasks and targets, so that whoever checks judges nothing but the check.
    """
    is_check = lesson.kind is LessonKind.STAGE_CHECK
    open_tasks = {one.task: one for one in carried(course, history)}
    asked = {one.task: one.target for one in lesson.tasks}
    shown = asked if is_check else {**open_tasks, **asked}
    last = last_grades(history)
    cards = []
    for task in sorted(shown, key=lambda code: course.flow_place[code]):
        target, still = asked.get(task), open_tasks.get(task)
        if still and not is_check:
            target = _higher(course, still, target)
        cards.append(CardTask(task, target or "", still, last.get(task), task in asked))
    return tuple(cards)


def _higher(course: Course, still: CarriedTask, target: str | None) -> str:
    if target is None:
        return still.target
    ranks = (_rank(course, still.task, target), _rank(course, still.task, still.target))
    return target if ranks[0] >= ranks[1] else still.target


def last_grades(history: History) -> dict[str, GradeFact]:
    """The last counted grade of every task graded so far."""
    return {
        grade.task: grade
        for fact in in_order(history)
        for grade in fact.grades
        if grade.rank is not None
    }


def proposed_outcome(
    lesson: Lesson, grades: Iterable[GradeFact], errors: Iterable[ErrorFact]
) -> tuple[Outcome, str]:
    """The outcome a card points to, and why in words; the instructor decides.

    Only the lesson's own tasks count, not those carried into it. Lesson: a task not counted
    makes it incomplete; a safety-critical error, or more than a third of the tasks below their
    target, a repeat. Stage check: one task below fails it, one not seen discontinues it.
    """
    given = {grade.task: grade for grade in grades}
    own = [given.get(asked.task) for asked in lesson.tasks]
    counted = [grade for grade in own if grade is not None and grade.rank is not None]
    unseen = len(own) - len(counted)
    below = sum(grade.meets is False for grade in counted)
    critical = sum(error.severity is Severity.SAFETY_CRITICAL for error in errors)
    if lesson.kind is LessonKind.STAGE_CHECK:
        return _check_outcome(unseen, below, len(counted))
    return _lesson_outcome(unseen, below, len(counted), critical)


def _check_outcome(unseen: int, below: int, counted: int) -> tuple[Outcome, str]:
    if below:
        return Outcome.FAILED, say(
            "{below} of {tasks} below standard.", below=below, tasks=_tasks(counted)
        )
    if unseen:
        return Outcome.DISCONTINUED, say("{tasks} not seen.", tasks=_tasks(unseen))
    return Outcome.PASSED, say("All {tasks} to standard.", tasks=_tasks(counted))


def _lesson_outcome(
    unseen: int, below: int, counted: int, critical: int
) -> tuple[Outcome, str]:
    if unseen:
        return (
            Outcome.INCOMPLETE,
            say("{tasks} of this lesson not graded or not observed.", tasks=_tasks(unseen)),
        )
    if critical:
        return Outcome.REPEAT, say_n(
            "{n} safety-critical error marked.", "{n} safety-critical errors marked.", critical
        )
    if 3 * below > counted:
        return Outcome.REPEAT, say(
            "{below} of {tasks} below target, more than a third.",
            below=below,
            tasks=_tasks(counted),
        )
    if below:
        return Outcome.COMPLETE, say(
            "{below} of {tasks} below target, carried over.", below=below, tasks=_tasks(counted)
        )
    return Outcome.COMPLETE, say("All {tasks} at target.", tasks=_tasks(counted))


def _tasks(number: int) -> str:
    return count(number, "task")
