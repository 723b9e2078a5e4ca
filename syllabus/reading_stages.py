"""Reading `stages/*.toml` and `requirements.toml`."""

import re
from collections.abc import Mapping, Sequence
from datetime import date

from syllabus.course import Event, HourMinimum, Lesson, LessonKind, LessonTask, Stage, Task
from syllabus.entries import Entry, Placed, unique
from syllabus.measures import MEASURES
from syllabus.requirements import RequirementSet, Rule

HOURS = tuple(code for code, measure in MEASURES.items() if measure.unit == "h")
_EVENT_KINDS = ("document", "endorsement", "medical")
_KINDS = [kind.value for kind in LessonKind]
_SET = re.compile(r"[A-Za-z0-9][A-Za-z0-9.() -]*")


def read_stage(entry: Entry, tasks: Mapping[str, Task]) -> Stage:
    """One stage with its lessons; a lesson task without a target takes its scale's standard."""
    entry.only(
        "code", "title", "objective", "completion", "hours", "events", "tests",
        "requirements", "lesson",
    )  # fmt: skip
    for key in ("hours", "events", "tests"):
        listed = [(str(one.values.get("code", "")), one) for one in entry.entries(key)]
        unique(listed, f"entry in `{key}`")
    return Stage(
        code=entry.code(),
        title=entry.text("title"),
        objective=entry.text("objective"),
        completion=entry.text("completion"),
        lessons=tuple(_lesson(one, tasks) for one in entry.entries("lesson", needed=True)),
        hours=tuple(map(_hours, entry.entries("hours"))),
        events=tuple(
            _event(one, one.choice("kind", _EVENT_KINDS)) for one in entry.entries("events")
        ),
        tests=tuple(_event(one, "test") for one in entry.entries("tests")),
        requirements=entry.spare_text("requirements"),
    )


def _hours(entry: Entry) -> HourMinimum:
    entry.only("code", "at_least", "at_most", "above", "below", "source")
    if not entry.bounded():
        entry.fault("These hours have no limit: add at_least.")
    return HourMinimum(entry.choice("code", HOURS), entry.bounds(), entry.text("source"))


def _event(entry: Entry, kind: str) -> Event:
    entry.only("code", "words", "source", *(() if kind == "test" else ("kind",)))
    return Event(entry.code(), entry.text("words"), kind, entry.text("source"))


def _lesson(entry: Entry, tasks: Mapping[str, Task]) -> Lesson:
    entry.only(
        "code", "title", "kind", "objective", "completion", "ground_minutes",
        "flight_minutes", "tasks", "read",
    )  # fmt: skip
    kind = entry.choice("kind", _KINDS)
    return Lesson(
        code=entry.code(),
        title=entry.text("title"),
        kind=LessonKind(kind) if kind else LessonKind.DUAL,
        objective=entry.text("objective"),
        completion=entry.text("completion"),
        ground_minutes=entry.count("ground_minutes"),
        flight_minutes=entry.count("flight_minutes"),
        tasks=tuple(_lesson_task(one, tasks) for one in entry.entries("tasks", needed=True)),
        read=entry.texts("read"),
    )


def _lesson_task(entry: Entry, tasks: Mapping[str, Task]) -> LessonTask:
    entry.only("task", "target")
    code = entry.text("task")
    standard = tasks[code].scale.standard if code in tasks else ""
    return LessonTask(code, entry.spare_text("target") or standard)


def read_requirement_sets(entries: Sequence[Entry]) -> tuple[Placed[RequirementSet], ...]:
    """The requirement sets of the course."""
    found = tuple(Placed(_requirement_set(entry), entry) for entry in entries)
    unique([(one.value.code, one.at) for one in found], "requirement set")
    return found


def _requirement_set(entry: Entry) -> RequirementSet:
    entry.only(
        "code", "title", "citation", "effective_from", "verified_by", "verified_on", "rules",
        "device_credit", "test_type",
    )  # fmt: skip
    listed = entry.entries("rules", needed=True)
    unique([(str(one.values.get("code", "")), one) for one in listed], "rule")
    if (credit := entry.number("device_credit")) is not None and credit < 0:
        entry.fault("`device_credit` cannot be below 0.", "device_credit")
    return RequirementSet(
        code=entry.code(pattern=_SET, of="letters, digits, points and brackets"),
        title=entry.text("title"),
        citation=entry.text("citation"),
        effective_from=_day(entry, "effective_from", entry.text("effective_from")),
        verified_by=entry.any_text("verified_by"),
        verified_on=_day(entry, "verified_on", entry.any_text("verified_on")),
        rules=tuple(map(_rule, listed)),
        device_credit=credit or 0.0,
        test_type=entry.spare_text("test_type") or "",
    )


def _day(entry: Entry, key: str, day: str) -> str:
    try:
        return date.fromisoformat(day).isoformat() if day else ""
    except ValueError:
        entry.fault(f"`{key}` must be a day such as 2024-10-01.", key)
        return ""


def _rule(entry: Entry) -> Rule:
    entry.only(
        "code", "words", "measure", "at_least", "at_most", "above", "below", "unit",
        "citation", "flight", "days",
    )  # fmt: skip
    if not entry.bounded():
        entry.fault("This rule has no limit: add at_least or above.")
    measure, unit = entry.choice("measure", tuple(MEASURES)), entry.text("unit")
    if measure and unit and unit != MEASURES[measure].unit:
        entry.fault(f"`{measure}` is measured in {MEASURES[measure].unit}, not {unit}.", "unit")
    return Rule(
        code=entry.code(),
        words=entry.text("words"),
        measure=measure,
        bounds=entry.bounds(),
        unit=unit,
        citation=entry.text("citation"),
        flight=entry.spare_text("flight"),
        days=entry.count("days", at_least=1) if "days" in entry.values else None,
    )
