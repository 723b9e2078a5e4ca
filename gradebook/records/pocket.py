"""What a browser needs to judge and state a card by itself, as plain values.

`static/js/rules.js` holds the same rules as `rules`, `timesheet`, `gauges` and `carryover`; it
gets from here what they take of a course. Words stay those of the course.
"""

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any, TypedDict

from gradebook.records.carryover import CardTask
from gradebook.records.mirrors import Body
from gradebook.records.rules import Setting
from gradebook.records.statement import known_of
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.values import CloseDecision, History, LessonFact, in_order
from syllabus.checklist import AircraftType
from syllabus.course import Course
from syllabus.errors import GENERIC
from syllabus.scales import GradeScale
from syllabus.standards import Bounds, plain_number

Plain = dict[str, Any]
Watched = Mapping[str, frozenset[str]]


class LessonJson(TypedDict):
    """The lesson. `tasks` are its own, without those carried into it."""

    code: str
    title: str
    kind: str
    flies: bool
    tasks: list[str]
    outcomes: list[str]


class TaskJson(TypedDict):
    """A task of the card. `watched`: the errors of the student's open watch items in it."""

    code: str
    title: str
    scale: str
    target: str
    carried_from: str | None
    errors: list[Plain]
    watched: list[str]


class ScaleJson(TypedDict):
    """A scale: its levels, the one that meets the standard, the words of states not counted."""

    title: str
    standard: str
    levels: list[Plain]
    not_counted: dict[str, str]


class SettingJson(TypedDict):
    """A `rules.Setting` without what no rule of the card asks for.

    `today` is the school's day when this was made: whoever judges a card later puts the day of
    that moment in `zone` (IANA) there. `lessons` are code and title, in course order; scales
    stand under their codes; `aircraft` are types with their flow, readings and limits.
    """

    lesson: LessonJson
    lessons: list[Plain]
    tasks: list[TaskJson]
    scales: dict[str, ScaleJson]
    generic: list[Plain]
    aircraft: list[Plain]
    enrolled_on: str
    today: str
    zone: str
    hours_style: str


def setting_json(
    setting: Setting, *, zone: str, hours_style: str, watched: Watched
) -> SettingJson:
    """The setting as plain values.

    `zone` is the school's, `hours_style` how it writes hours, `watched` the errors of the
    student's open watch items by task.
    """
    course = setting.course
    scales = {course.task_by_code[asked.task].scale for asked in setting.tasks}
    return {
        "lesson": _lesson(setting),
        "lessons": [{"code": one.code, "title": one.title} for one in course.lessons],
        "tasks": [_task(setting, asked, watched) for asked in setting.tasks],
        "scales": {scale.code: _scale(scale) for scale in scales},
        "generic": [asdict(error) for error in GENERIC.values()],
        "aircraft": [_aircraft(kind) for kind in course.aircraft],
        "enrolled_on": setting.enrolled_on.isoformat(),
        "today": setting.today.isoformat(),
        "zone": zone,
        "hours_style": hours_style,
    }


def body_json(record: LessonRecord, *, supersedes: str | None, check: str | None) -> Body:
    """What a draft's statement will say whatever is graded; the rest comes from its card.

    `supersedes` is the digest of the record that an amendment replaces, `check` the id of the
    approval that a stage check uses up.
    """
    return {**known_of(record), "supersedes": supersedes, "check": check}


class PastJson(TypedDict):
    """What a student's lessons say of the next card, for one more signed away from here.

    `flow`: each task and its scale, in flow order; `scales`: ranks of levels by scale;
    `lessons`: targets by task of each lesson; `history`: the effective lessons, oldest first,
    grades as (task, level, rank, target) and errors as (task, error, severity).
    """

    flow: list[tuple[str, str]]
    scales: dict[str, Plain]
    lessons: dict[str, dict[str, str]]
    history: list[Plain]
    decisions: list[Plain]


def past_json(course: Course, history: History, decisions: Iterable[CloseDecision]) -> PastJson:
    """The past of one enrolment in a course, as `static/js/rules/foreseen.js` reads it."""
    scales = {task.scale for task in course.tasks}
    return {
        "flow": [(task.code, task.scale.code) for task in course.tasks],
        "scales": {
            scale.code: {
                "standard": scale.standard,
                "ranks": {level.code: level.rank for level in scale.levels},
            }
            for scale in scales
        },
        "lessons": {
            lesson.code: {asked.task: asked.target for asked in lesson.tasks}
            for lesson in course.lessons
        },
        "history": [_past(fact) for fact in in_order(history)],
        "decisions": [
            {"task": one.task, "error": one.error, "on": one.decided_on.isoformat()}
            for one in decisions
        ],
    }


def _past(fact: LessonFact) -> Plain:
    return {
        "record": fact.record_id,
        "lesson": fact.lesson,
        "attempt": fact.attempt,
        "flown_on": fact.flown_on.isoformat(),
        "grades": [(one.task, one.level, one.rank, one.target) for one in fact.grades],
        "errors": [(one.task, one.error, one.severity.value) for one in fact.errors],
    }


def _lesson(setting: Setting) -> LessonJson:
    lesson = setting.lesson
    return {
        "code": lesson.code,
        "title": lesson.title,
        "kind": lesson.kind.value,
        "flies": setting.flies,
        "tasks": [asked.task for asked in lesson.tasks],
        "outcomes": [outcome.value for outcome in setting.outcomes()],
    }


def _task(setting: Setting, asked: CardTask, watched: Watched) -> TaskJson:
    task = setting.course.task_by_code[asked.task]
    return {
        "code": task.code,
        "title": task.title,
        "scale": task.scale.code,
        "target": asked.target,
        "carried_from": asked.carried.origin_lesson if asked.carried else None,
        "errors": [asdict(error) for error in task.errors],
        "watched": sorted(watched.get(task.code, ())),
    }


def _scale(scale: GradeScale) -> ScaleJson:
    return {
        "title": scale.title,
        "standard": scale.standard,
        "levels": [
            {"code": one.code, "words": one.words, "rank": one.rank} for one in scale.levels
        ],
        "not_counted": {code: scale.words(code) for code in scale.not_counted},
    }


def _aircraft(kind: AircraftType) -> Plain:
    limits = [{**asdict(limit), "bounds": _bounds(limit.bounds)} for limit in kind.limits]
    return {**asdict(kind), "limits": limits}


def _bounds(bounds: Bounds) -> Mapping[str, str]:
    """The bounds that are set, as text: browsers read decimals inexactly."""
    return {
        name: plain_number(bound) for name, bound in asdict(bounds).items() if bound is not None
    }
