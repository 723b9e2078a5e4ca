"""Two or three lessons of one student on one day or several, with a past behind them."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from random import Random
from typing import Any

from gradebook.records import carryover
from gradebook.records.card import Card
from gradebook.records.filling import fill
from gradebook.records.pocket import Plain, body_json, past_json
from gradebook.records.rules import Setting
from gradebook.records.statement import record_of
from gradebook.records.store.facts import fact_of
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.values import CloseDecision, ErrorFact, History, LessonFact
from gradebook.records.watchitems import watch_items
from syllabus.course import Course, Lesson
from tests.pocket.cards_drawn import _Drawing
from tests.pocket.program import drafted, packed, stated
from tests.pocket.settings_drawn import ENROLLED, TODAY, _fact, courses

COURSES = courses()


@dataclass(frozen=True)
class Drawn:
    """A past, and cards written one after another under what came before each."""

    course: Course
    history: History
    decisions: tuple[CloseDecision, ...]
    lessons: tuple[Lesson, ...]
    numbers: tuple[int, ...]
    amended: str | None


def _dice(number: int) -> Random:
    return Random(number)  # noqa: S311 - repeatable, not secret


def drawn(number: int) -> Drawn:
    """The same lessons for the same number."""
    dice = _dice(number)
    course = dice.choice(COURSES)
    most = dice.randint(0, min(14, len(course.lessons)))
    history = tuple(_past(course, dice, place) for place in range(1, most + 1))
    decisions = tuple(_decisions(dice, history))
    near = course.lessons[max(0, most - 2) : most + 5] or course.lessons
    lessons = tuple(dice.choices(near, k=dice.choice([2, 2, 3])))
    amended = dice.choice(history).record_id if history and dice.random() < 0.2 else None
    numbers = tuple(dice.randrange(10**6) for _ in lessons)
    return Drawn(course, history, decisions, lessons, numbers, amended)


def _past(course: Course, dice: Random, place: int) -> LessonFact:
    lesson = dice.choice(course.lessons[: place + 3])
    fact = _fact(course, lesson, place, dice)
    errors = [
        ErrorFact(grade.task, error.code, error.severity)
        for grade in fact.grades
        for error in course.task_by_code[grade.task].errors
        if dice.random() < 0.25
    ]
    grades = tuple(grade for grade in fact.grades if dice.random() < 0.9)
    day = ENROLLED + timedelta(days=dice.randint(0, 20))
    acknowledged = dice.random() < 0.5
    return replace(
        fact, grades=grades, errors=tuple(errors), flown_on=day, acknowledged=acknowledged
    )


def _decisions(dice: Random, history: History) -> Iterator[CloseDecision]:
    marks = [(error.task, error.error) for fact in history for error in fact.errors]
    for task, error in marks:
        if dice.random() < 0.15:
            day = ENROLLED + timedelta(days=dice.randint(0, 25))
            yield CloseDecision(task, error, day, "b" * 32, "Shown twice.")


@dataclass
class Program:
    """What the program makes of the lessons drawn: each is signed before the next one."""

    drawn: Drawn

    def __post_init__(self) -> None:
        self.history = self.drawn.history

    def record(self, place: int, past: History) -> LessonRecord:
        """The draft of one of them."""
        lesson = self.drawn.lessons[place]
        record = drafted(self.setting(place, past))
        record.id = f"{place + 100:032x}"
        record.attempt = carryover.attempt_number(lesson, past)
        if place == 0 and self.drawn.amended:
            record.supersedes_id, record.reason = self.drawn.amended, "Better so."
        return record

    def setting(self, place: int, past: History) -> Setting:
        """What its card is judged against."""
        course, lesson = self.drawn.course, self.drawn.lessons[place]
        if place == 0:
            past = tuple(fact for fact in past if fact.record_id != self.drawn.amended)
        tasks = carryover.card_tasks(course, lesson, past)
        return Setting(course, lesson, tasks, ENROLLED, TODAY)

    def pocketed(self, place: int) -> Plain:
        """What the phone took along before any was signed."""
        past, setting = self.drawn.history, self.setting(place, self.drawn.history)
        record = self.record(place, past)
        return {
            "version": int(place == 0 and self.drawn.amended is not None),
            "setting": _watched(setting, past, self.drawn.decisions),
            "body": body_json(record, supersedes=None, check=None),
            "past": past_json(self.drawn.course, past, self.drawn.decisions),
        }

    def card(self, place: int) -> Card:
        """The card written, under what the lessons before it left open."""
        dice = _dice(self.drawn.numbers[place])
        card = _Drawing(dice, self.setting(place, self.history), tidy=True).card()
        day = ENROLLED + timedelta(days=dice.choice([5, 20, 30, 30, 30, 40]))
        return replace(card, flown_on=day.isoformat())

    def sign(self, place: int, card: Card) -> tuple[Plain, str]:
        """The setting as it stands now, the text stated; then it is history."""
        setting, record = self.setting(place, self.history), self.record(place, self.history)
        record.card = card.as_json()
        fill(record, card, setting)
        body = {**record_of(record), "supersedes": None, "check": None}
        told = _watched(setting, self.history, self.drawn.decisions), stated(body)
        record.state, record.sequence = "signed", 1000 + place
        kept = (fact for fact in self.history if fact.record_id != record.supersedes_id)
        self.history = carryover.in_order((*kept, fact_of(record)))
        return told


def _watched(
    setting: Setting, history: History, decisions: tuple[CloseDecision, ...]
) -> dict[str, Any]:
    watched: dict[str, set[str]] = {}
    for item in watch_items(history, decisions):
        if item.is_open:
            watched.setdefault(item.task, set()).add(item.error)
    return packed(setting, {task: frozenset(errors) for task, errors in watched.items()})
