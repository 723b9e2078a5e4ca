"""Verdicts on tasks, hours and filed events, each with the records it rests on. Pure."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import fields
from datetime import date
from operator import attrgetter

from gradebook import formats
from gradebook.records import expiry
from gradebook.records.values import (
    Evidence,
    FiledEvent,
    GradeFact,
    History,
    LessonFact,
    Times,
    Verdict,
)
from gradebook.records.wording import count_words, lesson_words, level_words
from syllabus.course import Course, Event, LessonTask, Stage
from syllabus.measures import MEASURES, LoggedFlight, amount_words
from syllabus.requirements import RequirementSet, Rule, RuleVerdict, judge
from syllabus.saying import joined, say

SCHOOL = say("school rule")
LOGGED = attrgetter(*(field.name for field in fields(Times)))
"""What a lesson adds to the log, in the order of `Times`, which is that of `LoggedFlight`."""


Counted = Mapping[str, Sequence[tuple[LessonFact, GradeFact]]]
"""By task, oldest first: the lessons with a counted grade of it, and that grade."""


def counted(history: History) -> Counted:
    """The counted grades of a history."""
    found = defaultdict[str, list[tuple[LessonFact, GradeFact]]](list)
    for fact in history:
        for grade in fact.grades:
            if grade.rank is not None:
                found[grade.task].append((fact, grade))
    return found


def task_verdict(course: Course, asked: LessonTask, grades: Counted) -> Verdict:
    """The last counted grades, one a lesson, as many as the course asks, all at the target."""
    task = course.task_by_code[asked.task]
    last = grades.get(task.code, ())[-course.consecutive :]
    met = len(last) == course.consecutive and all(
        task.scale.meets(grade.level, asked.target) for _, grade in last
    )
    target = task.scale.words(asked.target)
    words = [level_words(course, task.code, grade.level) for _, grade in last]
    return Verdict(
        group="tasks",
        code=task.code,
        words=task.title,
        met=met,
        have=say("last graded {levels}", levels=joined(say(", then "), words))
        if words
        else say("Not graded yet"),
        need=say(
            "{target} in the last {lessons}",
            target=target,
            lessons=count_words(course.consecutive, "lesson"),
        ),
        citation=task.standard.source,
        evidence=tuple(
            Evidence(
                joined(": ", (lesson_words(course, fact), said)), fact.record_id, fact.flown_on
            )
            for (fact, _), said in zip(last, words, strict=True)
        ),
    )


def logged_flight(fact: LessonFact, words: str = "") -> LoggedFlight:
    """The facts of one lesson record that hour rules need."""
    name = words or fact.lesson
    return LoggedFlight(fact.record_id, fact.flown_on, name, fact.aircraft, *LOGGED(fact.times))


def hour_verdicts(
    course: Course, stage: Stage, history: History, on: date
) -> Iterator[Verdict]:
    """The hours the stage asks for, then the rules of its requirement set, one verdict each."""
    flights = [logged_flight(fact, lesson_words(course, fact)) for fact in history]
    by_id = {flight.flight_id: flight for flight in flights}
    sets = [_stage_hours(stage)]
    if stage.requirements is not None:
        sets.append({one.code: one for one in course.requirement_sets}[stage.requirements])
    first_type = course.aircraft[0].code if course.aircraft else ""
    for one in sets:
        for judged in judge(one, flights, on, one.test_type or first_type):
            yield _hour_verdict(judged, by_id)


def _stage_hours(stage: Stage) -> RequirementSet:
    rules = tuple(
        Rule(hour.code, MEASURES[hour.code].words, hour.code, hour.bounds, "h", hour.source)
        for hour in stage.hours
    )
    return RequirementSet(stage.code, stage.title, SCHOOL, "", "", "", rules)


def _hour_verdict(judged: RuleVerdict, by_id: dict[str, LoggedFlight]) -> Verdict:
    rule = judged.rule
    counted = [by_id[flight_id] for flight_id in judged.counted]
    left = [(by_id[one.flight_id], one.why) for one in judged.not_counted]
    return Verdict(
        "hours",
        rule.code,
        rule.words,
        judged.met,
        have=judged.have_words,
        need=judged.need_words,
        citation=rule.citation,
        evidence=tuple(
            Evidence(joined(": ", (one.words, _amount(rule, one))), one.flight_id, one.on)
            for one in counted
        ),
        not_counted=tuple(
            Evidence(joined(": ", (one.words, why)), one.flight_id, one.on) for one, why in left
        ),
    )


def _amount(rule: Rule, flight: LoggedFlight) -> str:
    amount = MEASURES[rule.measure].of(flight)
    return amount_words(amount, rule.unit) if amount else say("device credit")


def event_verdict(group: str, event: Event, filed: Iterable[FiledEvent], on: date) -> Verdict:
    """The filing that holds longest, and what may keep it from counting on the day."""
    shown = expiry.longest(filed, event.code, on)
    have = say("Not on file") if shown is None else _fault(shown, on) or _held(shown)
    return Verdict(
        group,
        event.code,
        event.words,
        met=shown is not None and _fault(shown, on) is None,
        have=have,
        need=say("Passed and not expired")
        if group == "tests"
        else say("On file and not expired"),
        citation=event.source,
        evidence=tuple(
            Evidence(one.words or event.words, one.event_id, one.on) for one in (shown,) if one
        ),
    )


def _held(filed: FiledEvent) -> str:
    have = say("On file since {day}", day=formats.day(filed.on))
    if filed.expires_on is None:
        return have
    return say("{have}, through {day}", have=have, day=formats.day(filed.expires_on))


def _fault(filed: FiledEvent, on: date) -> str | None:
    """What keeps a filing from counting on a day; None when it counts."""
    if filed.on > on:
        return say("Dated {day}, after this day", day=formats.day(filed.on))
    if not filed.passed:
        return say("Not passed on {day}", day=formats.day(filed.on))
    if filed.expires_on is not None and filed.expires_on < on:
        return say("Expired on {day}", day=formats.day(filed.expires_on))
    return None
