"""What must hold before a card can be signed. Pure: values in, problems for people out."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from gradebook.records.card import Card, Entry
from gradebook.records.carryover import CardTask
from gradebook.records.faults import Problem
from gradebook.records.timesheet import read_times
from gradebook.records.values import Outcome, Times
from syllabus.checklist import AircraftType
from syllabus.course import Course, Lesson, LessonKind
from syllabus.limits import parse_reading
from syllabus.saying import dated, joined, say

LONGEST_REMARK = 2000
DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
CHECK_OUTCOMES = (Outcome.PASSED, Outcome.FAILED, Outcome.DISCONTINUED)
LESSON_OUTCOMES = (Outcome.COMPLETE, Outcome.INCOMPLETE, Outcome.REPEAT)


@dataclass(frozen=True, slots=True)
class Setting:
    """What a card is judged against: its course, lesson, tasks, and the days that bound it."""

    course: Course
    lesson: Lesson
    tasks: tuple[CardTask, ...]
    enrolled_on: date
    today: date

    @property
    def flies(self) -> bool:
        """Whether this lesson is flown."""
        return self.lesson.flight_minutes > 0

    def outcomes(self) -> tuple[Outcome, ...]:
        """The outcomes this kind of lesson can have."""
        is_check = self.lesson.kind is LessonKind.STAGE_CHECK
        return CHECK_OUTCOMES if is_check else LESSON_OUTCOMES

    def aircraft(self, card: Card) -> AircraftType | None:
        """The aircraft type chosen on the card, or None."""
        return self.course.aircraft_type(card.aircraft)


def read_day(text: str) -> date | None:
    """The day typed (ISO 8601, year-month-day), or None when it cannot be read."""
    typed = text.strip()
    try:
        return date.fromisoformat(typed) if DAY.fullmatch(typed) else None
    except ValueError:
        return None


def check_card(card: Card, setting: Setting) -> tuple[Problem, ...]:
    """Everything on the card that cannot stand, whether or not it is finished."""
    return (
        *_check_day(card, setting),
        *(problem for entry in card.entries for problem in _check_entry(entry, setting)),
        *_check_readings(card, setting),
        *read_times(card.times)[1],
        *_check_choices(card, setting),
    )


def check_finished(card: Card, setting: Setting) -> tuple[Problem, ...]:
    """What is still missing before the card can be signed."""
    times = read_times(card.times)[0]
    return (
        *_missing_heading(card, setting),
        *_missing_times(times, setting),
        *_missing_grades(card, setting),
        *_missing_words(card, setting),
    )


def _check_day(card: Card, setting: Setting) -> Iterator[Problem]:
    if not card.flown_on:
        return
    day = read_day(card.flown_on)
    if day is None:
        yield Problem("flown_on", say("Type the date as year-month-day, such as 2026-05-31."))
    elif day > setting.today:
        yield Problem("flown_on", say("{day} is in the future.", day=dated(day)))
    elif day < setting.enrolled_on:
        enrolled = dated(setting.enrolled_on)
        yield Problem(
            "flown_on",
            say("The student enrolled on {enrolled}, after this date.", enrolled=enrolled),
        )


def _check_entry(entry: Entry, setting: Setting) -> Iterator[Problem]:
    task = setting.course.task_by_code.get(entry.task)
    if task is None or all(entry.task != asked.task for asked in setting.tasks):
        yield Problem("", say("{task} is not a task of this lesson.", task=entry.task))
        return
    if entry.level and not task.scale.accepts(entry.level):
        wrong = say(
            "{task}: {level} is not a level of the scale {scale}.",
            task=task.title,
            level=entry.level,
            scale=task.scale.title,
        )
        yield Problem(f"level-{entry.task}", wrong)
    if len(entry.remark) > LONGEST_REMARK:
        too_long = say(
            "{task}: keep the remark under {most} characters.",
            task=task.title,
            most=LONGEST_REMARK,
        )
        yield Problem(f"remark-{entry.task}", too_long)
    for code in entry.errors:
        try:
            task.error(code)
        except KeyError:
            yield Problem(
                f"errors-{entry.task}",
                say("{task}: no error {code} in this task.", task=task.title, code=code),
            )


def _check_readings(card: Card, setting: Setting) -> Iterator[Problem]:
    aircraft = setting.aircraft(card)
    known = {one.code: one for one in aircraft.readings} if aircraft else {}
    others = {one.code for kind in setting.course.aircraft for one in kind.readings}
    for code, typed in card.readings.items():
        if not typed.strip() or aircraft is None:
            continue
        reading = known.get(code)
        if reading is None and code in others:
            continue  # typed while another type was chosen; it is kept and states nothing
        if reading is None:
            yield Problem(
                f"reading-{code}", say("{code} is not read on this aircraft type.", code=code)
            )
            continue
        try:
            parse_reading(typed, reading.unit)
        except ValueError as error:
            yield Problem(f"reading-{code}", joined(": ", (reading.words, error.args[0])))


def _check_choices(card: Card, setting: Setting) -> Iterator[Problem]:
    if card.aircraft and setting.aircraft(card) is None:
        yield Problem("aircraft", say("Choose an aircraft type of this course."))
    if card.outcome and card.outcome not in setting.outcomes():
        yield Problem("outcome", say("Choose one of the outcomes shown."))
    if card.next_lesson and card.next_lesson not in setting.course.lesson_by_code:
        yield Problem("next_lesson", say("Choose a lesson of this course."))
    if len(card.remarks) > LONGEST_REMARK:
        yield Problem(
            "remarks",
            say(
                "Keep the remarks under {most} characters.",
                most=LONGEST_REMARK,
            ),
        )
    if len(card.ident) > 20:
        yield Problem("ident", say("Keep the registration under 20 characters."))


def _missing_heading(card: Card, setting: Setting) -> Iterator[Problem]:
    if not card.flown_on:
        yield Problem("flown_on", say("Enter the date of the lesson."))
    if not card.outcome:
        yield Problem("outcome", say("Choose the outcome of the lesson."))
    if setting.flies and not card.aircraft:
        yield Problem("aircraft", say("Choose the aircraft type."))
    if setting.flies and not card.ident.strip():
        yield Problem("ident", say("Enter the aircraft's registration."))


def _missing_times(times: Times, setting: Setting) -> Iterator[Problem]:
    if setting.flies and not times.flight and not times.device:
        field = "times-solo" if setting.lesson.kind is LessonKind.SOLO else "times-dual"
        yield Problem(field, say("Enter the flight time."))
    if not setting.flies and not times.ground:
        yield Problem("times-ground", say("Enter the ground time."))


def _missing_grades(card: Card, setting: Setting) -> Iterator[Problem]:
    counted = (
        setting.course.task_by_code[asked.task].scale.rank(card.entry(asked.task).level)
        for asked in setting.tasks
    )
    if all(rank is None for rank in counted):
        yield Problem("", say("Grade at least one task."))


def _missing_words(card: Card, setting: Setting) -> Iterator[Problem]:
    for asked in setting.tasks:
        task, entry = setting.course.task_by_code[asked.task], card.entry(asked.task)
        below = task.scale.meets(entry.level, asked.target) is False
        if below and not entry.errors and not entry.remark.strip():
            why = say(
                "{task} is below standard: mark an error or say why in a remark.",
                task=task.title,
            )
            yield Problem(f"remark-{entry.task}", why)
