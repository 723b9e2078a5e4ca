"""Revisions of a course: their name, and what changed from one to the next, in words."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields
from hashlib import sha256
from typing import TypeVar

from syllabus.course import Course, Lesson, Stage, Task

_T = TypeVar("_T")


def content_hash(files: Mapping[str, str]) -> str:
    """SHA-256 (hex) of the files' names and texts; it names the revision.

    The order of the files and the kind of line ending do not matter, every other character
    does, comments included.
    """
    digest = sha256()
    for name in sorted(files):
        text = files[name].replace("\r\n", "\n").replace("\r", "\n")
        for part in (name, text):
            octets = part.encode("utf-8", "surrogatepass")
            digest.update(f"{len(octets)}:".encode())
            digest.update(octets)
    return digest.hexdigest()


def differences(old: Course, new: Course) -> list[str]:
    """What changed, one line each: course, stages, lessons and their tasks, tasks, the rest."""
    return [
        *_heading(old, new),
        *_compared("stage", _stages(old), _stages(new), _stage_changes),
        *_compared("lesson", old.lesson_by_code, new.lesson_by_code, _lesson_changes),
        *_compared("task", old.task_by_code, new.task_by_code, _task_changes),
        *_compared(
            "aircraft type",
            {one.code: one for one in old.aircraft},
            {one.code: one for one in new.aircraft},
            _field_changes,
        ),
        *_compared(
            "requirement set",
            {one.code: one for one in old.requirement_sets},
            {one.code: one for one in new.requirement_sets},
            _field_changes,
        ),
    ]


def _stages(course: Course) -> dict[str, Stage]:
    return {stage.code: stage for stage in course.stages}


def _heading(old: Course, new: Course) -> Iterator[str]:
    for name in ("code", "title", "category", "consecutive", "prerequisites", "summary"):
        if getattr(old, name) != getattr(new, name):
            yield f"Course: {name} changed"
    kept = [code for code in old.task_by_code if code in new.task_by_code]
    if kept != [code for code in new.task_by_code if code in old.task_by_code]:
        yield "Course: order of the flow changed"


def _compared(
    kind: str,
    old: Mapping[str, _T],
    new: Mapping[str, _T],
    changes: Callable[[_T, _T], Iterator[str]],
) -> Iterator[str]:
    """Words for what was added, removed and changed among things of one kind, by code."""
    name = kind.capitalize()
    yield from (f"{name} {code} removed" for code in old if code not in new)
    for code, now in new.items():
        if code not in old:
            yield f"{name} {code} added"
        elif old[code] != now:
            yield from (f"{name} {code}: {words}" for words in changes(old[code], now))


def _field_changes(old: object, new: object, *apart: str) -> Iterator[str]:
    """Names of the fields of two dataclass instances that differ."""
    for one in fields(new):  # type: ignore[arg-type]
        if one.name not in apart and getattr(old, one.name) != getattr(new, one.name):
            yield f"{one.name.replace('_', ' ')} changed"


def _stage_changes(old: Stage, new: Stage) -> Iterator[str]:
    yield from _field_changes(old, new, "lessons")
    if [lesson.code for lesson in old.lessons] != [lesson.code for lesson in new.lessons]:
        yield "lessons or their order changed"


def _lesson_changes(old: Lesson, new: Lesson) -> Iterator[str]:
    yield from _field_changes(old, new, "tasks")
    before = {asked.task: asked.target for asked in old.tasks}
    after = {asked.task: asked.target for asked in new.tasks}
    yield from (f"task {code} removed" for code in before if code not in after)
    for code, target in after.items():
        if code not in before:
            yield f"task {code} added, target {target}"
        elif before[code] != target:
            yield f"target of {code} changed from {before[code]} to {target}"


def _task_changes(old: Task, new: Task) -> Iterator[str]:
    yield from _field_changes(old, new, "scale", "standard", "errors", "elements")
    if old.scale.code != new.scale.code:
        yield f"scale changed from {old.scale.code} to {new.scale.code}"
    elif old.scale != new.scale:
        yield f"levels of its scale {new.scale.code} changed"
    yield from _field_changes(old.standard, new.standard, "criteria", "words")
    if old.standard.words != new.standard.words:
        yield "standard changed"
    for kind, before, after in (
        ("criterion", old.standard.criteria, new.standard.criteria),
        ("error", old.errors, new.errors),
        ("element", old.elements, new.elements),
    ):
        yield from _part_changes(
            kind, {one.code: one for one in before}, {one.code: one for one in after}
        )


def _part_changes(
    kind: str, old: Mapping[str, object], new: Mapping[str, object]
) -> Iterator[str]:
    yield from (f"{kind} {code} removed" for code in old if code not in new)
    yield from (f"{kind} {code} added" for code in new if code not in old)
    yield from (
        f"{kind} {code} changed" for code in new if code in old and old[code] != new[code]
    )
