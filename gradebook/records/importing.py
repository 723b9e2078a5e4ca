"""The two files a school can start from, and what their rows must hold. Pure."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from gradebook.exchange.lines import RowFault
from gradebook.exchange.table import Layout, TableRow
from gradebook.records.card import Card, Entry
from gradebook.records.carryover import CardTask
from gradebook.records.rules import (
    CHECK_OUTCOMES,
    LESSON_OUTCOMES,
    Setting,
    check_card,
    read_day,
)
from gradebook.records.timesheet import LINES, read_times
from gradebook.records.values import Outcome
from syllabus.course import Course, Lesson, LessonKind, Task
from syllabus.saying import say

TIMES = tuple(line.field for line in LINES)
STUDENTS = Layout(
    say("students"),
    ("name", "email", "course", "enrolled_on", "instructor_email"),
    ("certificate",),
)
GRADES = Layout(
    say("lessons and grades"),
    ("student_email", "course", "lesson", "flown_on", "instructor_email", "task", "grade"),
    ("outcome", "aircraft", "registration", *TIMES, "errors", "remark", "remarks"),
)
LAYOUTS = (GRADES, STUDENTS)
LESSON_COLUMNS = ("outcome", "aircraft", "registration", *TIMES, "remarks")


@dataclass(frozen=True, slots=True)
class LessonKey:
    """Rows with the same key are one lesson."""

    student: str
    course: str
    lesson: str
    flown_on: str
    instructor: str


@dataclass(frozen=True, slots=True)
class ImportedLesson:
    """One lesson of the file: its first line, its key, and its card in its setting."""

    line: int
    key: LessonKey
    card: Card
    setting: Setting


def by_lesson(rows: Sequence[TableRow]) -> Mapping[LessonKey, list[TableRow]]:
    """Rows gathered into lessons, in the order they first appear."""
    found: dict[LessonKey, list[TableRow]] = defaultdict(list)
    for row in rows:
        key = LessonKey(
            row["student_email"].lower(),
            row["course"],
            row["lesson"],
            _iso_day(row["flown_on"]),
            row["instructor_email"].lower(),
        )
        found[key].append(row)
    return found


def _iso_day(text: str) -> str:
    """The day as 2026-05-31 however ISO 8601 lets it be written; as typed when unreadable."""
    day = read_day(text)
    return text if day is None else day.isoformat()


def read_lesson(
    key: LessonKey, rows: Sequence[TableRow], course: Course, days: tuple[date, date]
) -> tuple[ImportedLesson | None, list[RowFault]]:
    """The lesson its rows describe, or why it cannot be one. `days`: enrolled on, today."""
    lesson = course.lesson_by_code.get(key.lesson)
    if lesson is None:
        words = f"{course.title} has no lesson {key.lesson!r}."
        return None, [RowFault(rows[0].line, "lesson", words)]
    faults = [fault for row in rows[1:] for fault in _disagreeing(rows[0], row)]
    entries: list[Entry] = []
    for row in rows:
        entry, wrong = _entry(row, course, {one.task for one in entries})
        faults += wrong
        if entry is not None:
            entries.append(entry)
    setting = Setting(course, lesson, _tasks(lesson, entries, course), *days)
    card, outcome_faults = _card(key, rows[0], entries, setting)
    faults += outcome_faults
    faults += [
        RowFault(rows[0].line, problem.field.removeprefix("times-"), problem.words)
        for problem in check_card(card, setting)
        if not problem.field.startswith(("level-", "errors-"))  # told row by row above
    ]
    return ImportedLesson(rows[0].line, key, card, setting), faults


def _disagreeing(first: TableRow, row: TableRow) -> list[RowFault]:
    words = say("differs from line {}, which belongs to the same lesson.")
    return [
        RowFault(row.line, column, f"{column} {words.format(first.line)}")
        for column in LESSON_COLUMNS
        if row[column] not in ("", first[column])
    ]


def _entry(
    row: TableRow, course: Course, seen: set[str]
) -> tuple[Entry | None, list[RowFault]]:
    task = course.task_by_code.get(row["task"])
    if task is None:
        words = f"{course.title} has no task {row['task']!r}."
        return None, [RowFault(row.line, "task", words)]
    if task.code in seen:
        return None, [
            RowFault(row.line, "task", say("{task} is graded twice here.", task=task.title))
        ]
    faults = []
    level = row["grade"].lower().replace(" ", "-")
    if not task.scale.accepts(level):
        known = ", ".join(one.code for one in task.scale.levels)
        words = f"{row['grade']!r} is not a level of {task.scale.code} ({known})."
        faults.append(RowFault(row.line, "grade", words))
    codes = tuple(row["errors"].replace(";", " ").split())
    faults += [
        RowFault(row.line, "errors", f"{task.title} has no error {code!r}.")
        for code in codes
        if not _knows(task, code)
    ]
    return Entry(task.code, level, row["remark"], codes), faults


def _knows(task: Task, code: str) -> bool:
    try:
        task.error(code)
    except KeyError:
        return False
    return True


def _tasks(lesson: Lesson, entries: Sequence[Entry], course: Course) -> tuple[CardTask, ...]:
    """The lesson's tasks and those graded besides, in flow order."""
    targets = {asked.task: asked.target for asked in lesson.tasks}
    graded = {entry.task: course.task_by_code[entry.task].scale.standard for entry in entries}
    both = {**graded, **targets}
    return tuple(
        CardTask(task, both[task], None, None, in_lesson=task in targets)
        for task in sorted(both, key=lambda code: course.flow_place[code])
    )


def _card(
    key: LessonKey, row: TableRow, entries: Sequence[Entry], setting: Setting
) -> tuple[Card, list[RowFault]]:
    aircraft = row["aircraft"]
    faults = []
    if not key.flown_on:
        faults.append(
            RowFault(row.line, "flown_on", say("A date such as 2026-05-31 is needed."))
        )
    outcome = row["outcome"].lower() or _default_outcome(setting, entries)
    times = {name: row[name] for name in TIMES if row[name]}
    if setting.flies and not read_times(times)[0].flight:
        faults.append(RowFault(row.line, "dual", say("A flight lesson needs its flight time.")))
    card = Card(
        flown_on=key.flown_on,
        aircraft=aircraft,
        ident=row["registration"],
        entries=tuple(entries),
        times=times,
        remarks=row["remarks"],
        outcome=outcome,
    )
    if outcome not in setting.outcomes():
        known = ", ".join(one.value for one in setting.outcomes())
        faults.append(RowFault(row.line, "outcome", f"{outcome!r} is not one of: {known}."))
        card = replace(card, outcome="")
    return card, faults


def _default_outcome(setting: Setting, entries: Sequence[Entry]) -> Outcome:
    """Without an outcome in the file: what the grades alone say."""
    graded = {entry.task: entry.level for entry in entries}
    met = [
        setting.course.task_by_code[asked.task].scale.meets(
            graded.get(asked.task), asked.target
        )
        for asked in setting.lesson.tasks
    ]
    first, second, third = (
        CHECK_OUTCOMES if setting.lesson.kind is LessonKind.STAGE_CHECK else LESSON_OUTCOMES
    )
    if setting.lesson.kind is LessonKind.STAGE_CHECK:
        return second if False in met else (third if None in met else first)
    return second if None in met else first
