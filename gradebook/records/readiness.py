"""May this student go to the stage check? Every hard requirement, met or not, with evidence.

`Readiness` and `Verdict` themselves stand in `values`. Nothing here estimates anything.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from typing import Self

from gradebook import formats
from gradebook.records.carryover import BELOW, CLOSING, CarriedTask, carried
from gradebook.records.values import (
    CloseDecision,
    Evidence,
    FiledEvent,
    History,
    Readiness,
    Verdict,
    in_order,
)
from gradebook.records.verdicts import (
    SCHOOL,
    counted,
    event_verdict,
    hour_verdicts,
    task_verdict,
)
from gradebook.records.watchitems import WatchItem, WatchRules, watch_items
from gradebook.records.wording import (
    count_words,
    error_words,
    lesson_words,
    level_words,
    task_title,
)
from syllabus.course import Course, Stage
from syllabus.saying import capital, say

__all__ = ["Readiness", "StudentFile", "Verdict", "readiness"]

ON_RECORD = "14 CFR 141.101(a)(2)"


@dataclass(frozen=True)
class StudentFile:
    """All that is kept of one enrolment; `unsigned` counts lesson drafts not yet signed."""

    history: History
    events: tuple[FiledEvent, ...] = ()
    decisions: tuple[CloseDecision, ...] = ()
    unsigned: int = 0
    watch_rules: WatchRules = field(default_factory=WatchRules)

    @cached_property
    def watch(self) -> tuple[WatchItem, ...]:
        """Every watch item, open and closed."""
        return watch_items(self.history, self.decisions, self.watch_rules)

    def until(self, on: date) -> Self:
        """The same file without the lessons flown after a day."""
        flown = tuple(fact for fact in self.history if fact.flown_on <= on)
        return self if len(flown) == len(self.history) else replace(self, history=flown)


def readiness(course: Course, stage: Stage, file: StudentFile, on: date) -> Readiness:
    """Judge every hard requirement of a stage's check as it stands on a day.

    Lessons flown after that day are left out.
    Groups in order: tasks, hours, events, tests, watch, records. KeyError when the stage names
    a requirement set or a check task the course does not have.
    """
    known = file.until(on)
    history = in_order(known.history)
    grades = counted(history)
    return Readiness(
        stage.code,
        (
            *(task_verdict(course, asked, grades) for asked in stage.check.tasks),
            *hour_verdicts(course, stage, history, on),
            *(event_verdict("events", event, file.events, on) for event in stage.events),
            *(event_verdict("tests", event, file.events, on) for event in stage.tests),
            *_watch_verdicts(course, known.watch),
            *_record_verdicts(course, stage, file, history),
        ),
    )


def _watch_verdicts(course: Course, items: Iterable[WatchItem]) -> Iterator[Verdict]:
    still = [item for item in items if item.is_open]
    for item in sorted(still, key=lambda item: not item.is_critical):
        yield _watch_verdict(course, item)
    if not still:
        yield Verdict(
            "watch",
            "none",
            say("No open watch item"),
            met=True,
            have=say("None"),
            need=say("None"),
            citation=SCHOOL,
        )


def _watch_verdict(course: Course, item: WatchItem) -> Verdict:
    error, task = error_words(course, item.task, item.error), task_title(course, item.task)
    clean = say(
        "{clean} of {needed} clean lessons",
        clean=item.clean_opportunities,
        needed=item.needed_clean,
    )
    return Verdict(
        "watch",
        f"{item.task}:{item.error}",
        say(
            "{severity}: {error} ({task})",
            severity=capital(say(item.severity.value)),
            error=error,
            task=task,
        ),
        met=False,
        have=say("Open since {day}, {clean}", day=formats.day(item.opened_on), clean=clean),
        need=_needed(item),
        citation=SCHOOL,
        evidence=(Evidence(item.why_opened, item.opened_by_record, item.opened_on),),
    )


def _needed(item: WatchItem) -> str:
    if item.is_critical:
        return say(
            "{clean} clean lessons in a row and an instructor's decision",
            clean=item.needed_clean,
        )
    return say("{clean} clean lessons in a row", clean=item.needed_clean)


def _record_verdicts(
    course: Course, stage: Stage, file: StudentFile, history: History
) -> Iterator[Verdict]:
    yield Verdict(
        "records",
        "unsigned",
        say("Every lesson signed"),
        met=file.unsigned == 0,
        have=count_words(file.unsigned, "unsigned lesson"),
        need=say("0 unsigned lessons"),
        citation=ON_RECORD,
    )
    yield _acknowledged(course, history)
    yield _nothing_carried(course, stage, history)
    yield _lessons_complete(stage, history)


def _acknowledged(course: Course, history: History) -> Verdict:
    waiting = [fact for fact in history if not fact.acknowledged]
    return Verdict(
        "records",
        "unacknowledged",
        say("Every lesson acknowledged by the student"),
        met=not waiting,
        have=say("{lessons} to acknowledge", lessons=count_words(len(waiting), "lesson")),
        need=say("0 lessons to acknowledge"),
        citation=SCHOOL,
        evidence=tuple(
            Evidence(lesson_words(course, fact), fact.record_id, fact.flown_on)
            for fact in waiting
        ),
    )


def _nothing_carried(course: Course, stage: Stage, history: History) -> Verdict:
    """Open carry-over, apart from what only this check itself has not seen yet."""
    own_check = stage.check.code
    still = [
        one
        for one in carried(course, history)
        if one.why == BELOW or one.origin_lesson != own_check
    ]
    return Verdict(
        "records",
        "carry-over",
        say("Nothing carried over"),
        met=not still,
        have=say("{tasks} carried over", tasks=count_words(len(still), "task")),
        need=say("0 tasks carried over"),
        citation=SCHOOL,
        evidence=tuple(
            Evidence(_carried_words(course, one), one.origin_record_id, one.since)
            for one in still
        ),
    )


def _carried_words(course: Course, one: CarriedTask) -> str:
    target = level_words(course, one.task, one.target)
    return say(
        "{task}: {why}, to reach {target}",
        task=task_title(course, one.task),
        why=one.why,
        target=target,
    )


def _lessons_complete(stage: Stage, history: History) -> Verdict:
    asked = stage.lessons[:-1]
    done = {fact.lesson: fact for fact in history if fact.outcome in CLOSING}
    missing = [lesson for lesson in asked if lesson.code not in done]
    records = (
        Evidence(say("{lesson}: complete", lesson=lesson.title), done[lesson.code].record_id)
        for lesson in asked
        if lesson.code in done
    )
    return Verdict(
        "records",
        "lessons",
        say("Every lesson of the stage complete"),
        met=not missing,
        have=say(
            "{done} of {lessons}",
            done=len(asked) - len(missing),
            lessons=count_words(len(asked), "lesson"),
        ),
        need=say("{lessons} before the check", lessons=count_words(len(asked), "lesson")),
        citation=say("Syllabus, {stage}", stage=stage.title),
        evidence=(
            *(Evidence(say("{lesson}: not complete", lesson=one.title)) for one in missing),
            *records,
        ),
    )
