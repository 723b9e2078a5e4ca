"""What holds a student back, how a task went over time, and whether progress has stopped."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from itertools import takewhile

from gradebook.analytics.intervals import wilson
from gradebook.formats import count
from gradebook.records.carryover import BELOW, CarriedTask, next_lesson
from gradebook.records.values import GradeFact, History, LessonFact, in_order
from gradebook.records.watchitems import WatchItem
from gradebook.records.wording import error_words, lesson_title, level_words
from syllabus.course import Course
from syllabus.saying import joined, say

REVIEW_DAYS = 14
NOTICE_DAYS = 30
PLATEAU_GRADES = 3
LOW_SHARE = 2 / 3
LOW_SHARE_GRADES = 3


@dataclass(frozen=True, slots=True)
class WeakItem:
    """A task that holds the student back; a higher `score` holds back more.

    `met` of `n` counted grades met their lesson's target, with the 95 % Wilson interval `low`
    to `high` (0-1). `target` is the level asked next.
    """

    task: str
    score: float
    why: tuple[str, ...]
    last: GradeFact | None
    target: str
    n: int
    met: int
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class SeriesPoint:
    """One result of one task. `rank` and `met` are None where it was not counted."""

    on: date
    level: str
    rank: int | None
    met: bool | None
    lesson: str
    instructor: str
    record_id: str


@dataclass(frozen=True, slots=True)
class Plateau:
    """The same grade below target `n` times in a row: a hint to change the approach."""

    task: str
    level: str
    n: int
    since: date
    record_ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Stall:
    """How long nothing was flown, and which tasks stay where they are.

    `days` since the last flight; None when there was none yet.
    """

    last_flight_on: date | None
    days: int | None
    plateaus: tuple[Plateau, ...]

    @property
    def wants_review(self) -> bool:
        """More than 14 days without a flight: start with a review."""
        return self.days is not None and self.days > REVIEW_DAYS

    @property
    def wants_notice(self) -> bool:
        """More than 30 days without a flight: the chief instructor should know."""
        return self.days is not None and self.days > NOTICE_DAYS


def task_series(history: History, task: str) -> tuple[SeriesPoint, ...]:
    """Every result of a task, oldest first, those not counted among them."""
    return tuple(
        SeriesPoint(
            fact.flown_on,
            grade.level,
            grade.rank,
            grade.meets,
            fact.lesson,
            instructor=fact.instructor,
            record_id=fact.record_id,
        )
        for fact in in_order(history)
        if (grade := fact.grade(task)) is not None
    )


def _counted(history: History) -> dict[str, list[tuple[LessonFact, GradeFact]]]:
    """By task, oldest first: the lessons it was graded in, and the counted grades."""
    found: dict[str, list[tuple[LessonFact, GradeFact]]] = {}
    for fact in in_order(history):
        for grade in fact.grades:
            if grade.rank is not None:
                found.setdefault(grade.task, []).append((fact, grade))
    return found


def weak_items(
    course: Course,
    history: History,
    watch: Iterable[WatchItem],
    carried: Iterable[CarriedTask],
) -> tuple[WeakItem, ...]:
    """Tasks that hold the student back, the worst first; flow order on ties.

    Each reason weighs more than all that follow it: an open safety-critical watch item, a
    carried task below standard, any other open watch item, a last grade below target, a task
    carried for another reason, a low share of grades at target.
    """
    still = [item for item in watch if item.is_open]
    open_tasks = {one.task: one for one in carried}
    targets = _next_targets(course, history)
    counted, found = _counted(history), []
    for task in course.tasks:
        view = _View(
            course,
            [grade for _, grade in counted.get(task.code, ())],
            tuple(item for item in still if item.task == task.code),
            open_tasks.get(task.code),
        )
        reasons = tuple(view.reasons())
        if reasons:
            target = targets.get(task.code, task.scale.standard)
            found.append(_weak_item(task.code, view, reasons, target))
    return tuple(sorted(found, key=lambda item: -item.score))


def _weak_item(
    task: str, view: "_View", reasons: tuple[tuple[float, str], ...], target: str
) -> WeakItem:
    low, high = wilson(view.met, len(view.grades))
    return WeakItem(
        task,
        sum(score for score, _ in reasons),
        tuple(words for _, words in reasons),
        view.grades[-1] if view.grades else None,
        target=view.carried.target if view.carried else target,
        n=len(view.grades),
        met=view.met,
        low=low,
        high=high,
    )


@dataclass(frozen=True, slots=True)
class _View:
    """What is known of one task: counted grades oldest first, open watch items, carry-over."""

    course: Course
    grades: list[GradeFact]
    watch: tuple[WatchItem, ...]
    carried: CarriedTask | None

    @property
    def met(self) -> int:
        """How many of the counted grades met their lesson's target."""
        return sum(grade.meets is True for grade in self.grades)

    def reasons(self) -> Iterator[tuple[float, str]]:
        """Weight and words of everything that holds the task back, the gravest first."""
        for item in sorted(self.watch, key=lambda item: not item.is_critical):
            yield (1000 if item.is_critical else 50), self._watch_words(item)
        if self.carried is not None:
            yield (200 if self.carried.why == BELOW else 5), self._carried_words(self.carried)
        if self.grades and self.grades[-1].meets is False:
            yield 20, self._last_words(self.grades[-1])
        n = len(self.grades)
        if n >= LOW_SHARE_GRADES and self.met / n < LOW_SHARE:
            yield (
                2 * (1 - self.met / n),
                say("Reached the target in {met} of {n} lessons.", met=self.met, n=n),
            )

    def _watch_words(self, item: WatchItem) -> str:
        error = error_words(self.course, item.task, item.error)
        kind = (
            say("Safety-critical error")
            if item.is_critical
            else say("An error that keeps coming back")
        )
        left = max(0, item.needed_clean - item.clean_opportunities)
        need = count(left, "more clean lesson in a row", "more clean lessons in a row")
        if item.is_critical:
            decision = say("your instructor's decision")
            need = joined(say(" and "), (need, decision)) if left else decision
        return say(
            "{kind}: {error}. It closes after {need}.", kind=kind, error=error, need=need
        )

    def _carried_words(self, one: CarriedTask) -> str:
        words = level_words(self.course, one.task, one.target)
        title = lesson_title(self.course, one.origin_lesson)
        return say(
            "Carried over from {lesson}: {why}. Reach {target} to close it.",
            lesson=title,
            why=one.why,
            target=words,
        )

    def _last_words(self, grade: GradeFact) -> str:
        got = level_words(self.course, grade.task, grade.level)
        asked = level_words(self.course, grade.task, grade.target)
        return say("Last grade {got}; the target was {asked}.", got=got, asked=asked)


def _next_targets(course: Course, history: History) -> dict[str, str]:
    """The level each task is asked for next: in the coming lesson or the first after it."""
    coming = next_lesson(course, history)
    lessons = course.lessons[course.lessons.index(coming) :] if coming else ()
    targets: dict[str, str] = {}
    for lesson in lessons:
        for asked in lesson.tasks:
            targets.setdefault(asked.task, asked.target)
    return targets


def stalled(history: History, on: date) -> Stall:
    """Days since the last flight, and every task on a plateau, as of a day.

    A plateau is three or more of the same counted grade, each below its target, with nothing
    else after them. It is normal, and no failure.
    """
    flown = [fact.flown_on for fact in history if fact.times.flight > 0]
    last = max(flown, default=None)
    plateaus = (_plateau(task, counted) for task, counted in _counted(history).items())
    days = (on - last).days if last else None
    return Stall(last, days, tuple(one for one in plateaus if one is not None))


def _plateau(task: str, counted: list[tuple[LessonFact, GradeFact]]) -> Plateau | None:
    level = counted[-1][1].level
    same = takewhile(
        lambda pair: pair[1].level == level and pair[1].meets is False, reversed(counted)
    )
    run = list(same)[::-1]
    if len(run) < PLATEAU_GRADES:
        return None
    records = tuple(fact.record_id for fact, _ in run)
    return Plateau(task, level, len(run), since=run[0][0].flown_on, record_ids=records)
