"""Lesson records as a copy shows them: all of them, those that no longer count too."""

from collections.abc import Iterator
from typing import Any

from gradebook import clock
from gradebook.records import airframe
from gradebook.records.copying.papers import Papers
from gradebook.records.lifecycle import EFFECTIVE
from gradebook.records.statement import plain
from gradebook.records.tables.lessons import ErrorMark, Grade, LessonRecord, ReadingTaken
from gradebook.records.timesheet import LINES
from gradebook.records.wording import error_words, lesson_title, level_words, task_title
from syllabus.course import Course, LessonKind
from syllabus.limits import held_to

Shown = dict[str, Any]


def lessons(papers: Papers) -> list[Shown]:
    """Every signed record, oldest first: by day, and on one day in the order of signing."""
    rows = sorted(papers.records, key=lambda row: (str(row.flown_on), row.sequence or 0))
    return [_lesson(papers, row) for row in rows]


def _lesson(papers: Papers, row: LessonRecord) -> Shown:
    course = papers.courses[row.revision_id]
    return {
        **_head(papers, row, course),
        "times": times(row.times or {}),
        "remarks": row.remarks,
        "next_lesson": lesson_title(course, row.next_lesson) if row.next_lesson else "",
        "grades": [_grade(papers, row, course, one) for one in _in_place(row.grades)],
        "errors": [_error(course, one) for one in _by_task(row.errors)],
        "readings": [_reading(row, course, one) for one in _by_code(row.readings)],
        "amends": _amends(papers, row),
        "superseded_by": _superseded_by(papers, row),
        "void": _void(papers, row),
        "answer": _answer(papers, row),
    }


def _head(papers: Papers, row: LessonRecord, course: Course) -> Shown:
    stage = course.stage_of.get(row.lesson)
    return {
        "record": row.id,
        "entry": row.sequence or 0,
        "digest": row.digest or "",
        "lesson": row.lesson,
        "title": lesson_title(course, row.lesson),
        "stage": stage.title if stage else "",
        "kind": row.kind,
        "attempt": row.attempt,
        "on": str(row.flown_on),
        "state": row.state,
        "counts": row.state in EFFECTIVE,
        "imported": row.origin == "imported",
        "instructor": papers.name(row.instructor_id),
        "number": papers.number(row.instructor_id),
        "signed_at": clock.zulu(row.signed_at) if row.signed_at else "",
        "assurance": papers.assurance.get(row.sequence or 0, ""),
        "aircraft": airframe.told(row.aircraft, course),
        "outcome": row.outcome or "",
        "exception": _exception(row),
    }


def _exception(row: LessonRecord) -> str:
    """The reason typed for a check from earlier records whose checker was not independent."""
    entered = row.origin == "imported" and row.kind == LessonKind.STAGE_CHECK
    return row.reason if entered else ""


def times(stored: dict[str, Any]) -> list[Shown]:
    """The lines of a time sheet that hold something; no float is left."""
    return [
        {"field": line.field, "words": line.words, "kind": line.kind, "amount": amount}
        for line in LINES
        if (amount := plain(stored.get(line.field) or 0))
    ]


def _in_place(grades: list[Grade]) -> list[Grade]:
    return sorted(grades, key=lambda one: one.place)


def _by_task(errors: list[ErrorMark]) -> list[ErrorMark]:
    return sorted(errors, key=lambda one: (one.task, one.error))


def _by_code(readings: list[ReadingTaken]) -> list[ReadingTaken]:
    return sorted(readings, key=lambda one: one.code)


def _grade(papers: Papers, row: LessonRecord, course: Course, grade: Grade) -> Shown:
    own = papers.own_grades.get((row.lesson, row.attempt, grade.task), "")
    return {
        "task": grade.task,
        "title": task_title(course, grade.task),
        "scale": grade.scale,
        "level": grade.level,
        "words": level_words(course, grade.task, grade.level),
        "target": level_words(course, grade.task, grade.target),
        "meets": grade.meets,
        "together": grade.together,
        "carried_from": lesson_title(course, grade.carried_from) if grade.carried_from else "",
        "remark": grade.remark,
        "own": level_words(course, grade.task, own) if own else "",
    }


def _error(course: Course, mark: ErrorMark) -> Shown:
    return {
        "task": task_title(course, mark.task),
        "code": mark.error,
        "words": error_words(course, mark.task, mark.error),
        "severity": mark.severity,
        "found": mark.found,
    }


def _reading(row: LessonRecord, course: Course, taken: ReadingTaken) -> Shown:
    words = {one.code: one.words for kind in course.aircraft for one in kind.readings}
    kind = course.aircraft_type(airframe.type_of(row.aircraft))
    limits = held_to(kind, taken.code, [one.code for one in row.readings]) if kind else ""
    return {
        "words": words.get(taken.code, taken.code),
        "value": taken.value,
        "unit": taken.unit,
        "within": taken.within,
        **({"held_to": limits} if limits and taken.within is not None else {}),
    }


def _amends(papers: Papers, row: LessonRecord) -> Shown | None:
    if row.supersedes_id is None:
        return None
    before = next((one for one in papers.records if one.id == row.supersedes_id), None)
    return {"entry": (before.sequence or 0) if before else 0, "reason": row.reason}


def _superseded_by(papers: Papers, row: LessonRecord) -> int | None:
    return next(_successors(papers, row), None)


def _successors(papers: Papers, row: LessonRecord) -> Iterator[int]:
    for one in papers.records:
        if one.supersedes_id == row.id and one.sequence is not None:
            yield one.sequence


def _void(papers: Papers, row: LessonRecord) -> Shown | None:
    if row.voided_at is None:
        return None
    entry = papers.entry("record.void", row.id) or 0
    return {"at": clock.zulu(row.voided_at), "reason": row.void_reason, "entry": entry}


def _answer(papers: Papers, row: LessonRecord) -> Shown | None:
    if row.acknowledged_at is None:
        return None
    kind = "record.acknowledge" if row.agrees else "record.disagree"
    return {
        "agrees": bool(row.agrees),
        "comment": row.comment,
        "at": clock.zulu(row.acknowledged_at),
        "entry": papers.entry(kind, row.id) or 0,
    }
