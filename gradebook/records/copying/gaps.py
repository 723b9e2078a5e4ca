"""What a record still lacks: worked out, never typed. Pure.

A gap that `blocks` stands in the way of certifying a graduation; the others are told. The
school may not graduate anybody before the course is finished (14 CFR 141.77(a)).
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from gradebook.records.carryover import BELOW, CLOSING, carried, completed
from gradebook.records.readiness import StudentFile, readiness
from gradebook.records.values import History, Verdict
from gradebook.records.watchitems import WatchItem
from gradebook.records.wording import count_words, error_words, task_title
from syllabus.course import Course, Stage
from syllabus.saying import dated, say

FINISHED = "14 CFR 141.77(a)"
ON_RECORD = "14 CFR 141.101(a)(2)"
ENDING = "14 CFR 141.101(a)(3)"
SCHOOL = say("school rule")
JUDGED = ("hours", "events", "tests")


@dataclass(frozen=True, slots=True)
class Gap:
    """One thing missing, by which rule, and whether it stands in the way of graduation."""

    words: str
    citation: str
    blocks: bool = True


def gaps(course: Course, file: StudentFile, ended_how: str | None, on: date) -> tuple[Gap, ...]:
    """Everything missing from a record on its last day, what blocks graduation first."""
    known = file.until(on)
    history = known.history
    found = [
        *_ending(ended_how),
        *_unsigned(file.unsigned),
        *_lessons(course, history),
        *(gap for stage in course.stages for gap in _asked(course, stage, file, on)),
        *_below(course, history),
        *_unanswered(history),
        *_watched(course, known.watch),
    ]
    return tuple(sorted(found, key=lambda gap: not gap.blocks))


def _ending(how: str | None) -> Iterator[Gap]:
    if how is None:
        yield Gap(say("The enrolment has not ended."), ENDING)
    elif how != "graduated":
        yield Gap(say("The enrolment ended otherwise: {how}.", how=how), ENDING)


def _unsigned(number: int) -> Iterator[Gap]:
    if number:
        words = count_words(number, "lesson")
        yield Gap(
            say("{words} begun and not signed: not in this record.", words=words), ON_RECORD
        )


def _lessons(course: Course, history: History) -> Iterator[Gap]:
    closed = completed(history)
    for stage in course.stages:
        still = [lesson for lesson in stage.lessons if lesson.code not in closed]
        if still:
            named = "; ".join(f"{lesson.code.upper()} {lesson.title}" for lesson in still)
            words = count_words(len(still), "lesson")
            yield Gap(
                say(
                    "{stage}, {words} not complete: {named}.",
                    stage=stage.title,
                    words=words,
                    named=named,
                ),
                FINISHED,
            )


def _asked(course: Course, stage: Stage, file: StudentFile, on: date) -> Iterator[Gap]:
    """Hours, events and tests of a stage that held neither on the day of its check nor now."""
    passed = [
        fact.flown_on
        for fact in file.history
        if fact.lesson == stage.check.code and fact.outcome in CLOSING
    ]
    days = {on, *(day for day in passed[-1:] if day <= on)}
    verdicts: dict[tuple[str, str], list[Verdict]] = {}
    for day in sorted(days):
        for verdict in readiness(course, stage, file, day).verdicts:
            if verdict.group in JUDGED:
                verdicts.setdefault((verdict.group, verdict.code), []).append(verdict)
    for judged in verdicts.values():
        if not any(one.met for one in judged):
            last = judged[-1]
            yield Gap(
                say(
                    "{stage}, {last}: {have}; needed {need}.",
                    stage=stage.title,
                    last=last.words,
                    have=last.have,
                    need=last.need,
                ),
                last.citation,
            )


def _below(course: Course, history: History) -> Iterator[Gap]:
    for one in carried(course, history):
        if one.why == BELOW:
            since = dated(one.since)
            yield Gap(
                say(
                    "{task_title}: {below} since {since}.",
                    task_title=task_title(course, one.task),
                    below=BELOW,
                    since=since,
                ),
                SCHOOL,
            )


def _unanswered(history: History) -> Iterator[Gap]:
    waiting = sum(not fact.acknowledged for fact in history)
    if waiting:
        words = count_words(waiting, "lesson")
        yield Gap(
            say("{words} not acknowledged by the student.", words=words), SCHOOL, blocks=False
        )


def _watched(course: Course, items: Iterable[WatchItem]) -> Iterator[Gap]:
    for item in items:
        if item.is_open:
            words = error_words(course, item.task, item.error)
            title = task_title(course, item.task)
            yield Gap(
                say("Watch item open: {words} ({title}).", words=words, title=title),
                SCHOOL,
                blocks=False,
            )
