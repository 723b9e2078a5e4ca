"""What the program makes of a card, as the plain values that the browser gives of it."""

import uuid
from dataclasses import asdict
from types import MappingProxyType

from gradebook import formats
from gradebook.ledger.statements import Statement
from gradebook.records import gauges, rules
from gradebook.records.card import Card
from gradebook.records.faults import Problem
from gradebook.records.filling import fill
from gradebook.records.mirrors import Body
from gradebook.records.pocket import Plain, Watched, body_json, setting_json
from gradebook.records.rules import Setting
from gradebook.records.statement import record_of
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.training import Enrolment
from gradebook.records.timesheet import read_times
from gradebook.views.sheet import ReadingRow, Row, Sheet, proposal
from syllabus.course import Task
from syllabus.errors import Severity
from syllabus.limits import ReadingResult
from syllabus.standards import plain_number

ZONE = "Europe/Lisbon"
STYLES = ("decimal", "clock")
STATED = {
    "id": str(uuid.UUID(int=7)),
    "nonce": "0123456789abcdef" * 2,
    "claimed_at": "2026-05-31T10:00:00Z",
}


def packed(setting: Setting, watched: Watched = MappingProxyType({})) -> Plain:
    """The setting as the browser gets it."""
    return {**setting_json(setting, zone=ZONE, hours_style=_style(setting), watched=watched)}


def _style(setting: Setting) -> str:
    return STYLES[len(setting.tasks) % 2]


def drafted(setting: Setting) -> LessonRecord:
    """A draft of this lesson that no database knows."""
    enrolment = Enrolment(id="e" * 32, student_id="a" * 32)
    return LessonRecord(
        id="d" * 32,
        enrolment_id=enrolment.id,
        enrolment=enrolment,
        revision_id="f" * 64,
        lesson=setting.lesson.code,
        kind=setting.lesson.kind.value,
        attempt=2,
        instructor_id="b" * 32,
        origin="flown",
        supersedes_id=None,
        reason="",
    )


def known(setting: Setting) -> Plain:
    """What the pocket says of the statement before anything is graded."""
    return body_json(drafted(setting), supersedes=None, check="c" * 32)


def judged(card: Card, setting: Setting) -> Plain:
    """Everything the rules say of a card."""
    sheet = _sheet(card, setting)
    outcome, why = proposal(sheet)
    times, wrong = read_times(card.times)
    problems = _plain(rules.check_card(card, setting))
    missing = _plain(rules.check_finished(card, setting))
    can_sign = not problems and not missing
    return {
        "check": problems,
        "missing": missing,
        "gauges": {
            "results": [_result(one) for one in sheet.gauges.results],
            "proposed": [asdict(one) for one in sheet.gauges.proposed],
        },
        "proposal": {"outcome": outcome.value, "why": why},
        "times": {"times": asdict(times), "problems": _plain(wrong)},
        "review": {**_review(sheet), "problems": problems + missing},
        "statement": _statement(card, setting) if can_sign else None,
    }


def _plain(problems: tuple[Problem, ...]) -> list[Plain]:
    return [{"field": one.field, "words": one.words} for one in problems]


def _result(result: ReadingResult) -> Plain:
    value = result.value if isinstance(result.value, str) else plain_number(result.value)
    same = {name: getattr(result, name) for name in ("code", "task", "met", "words", "error")}
    return {**same, "value": value, "readings": list(result.readings)}


def _statement(card: Card, setting: Setting) -> str:
    """The text that would be signed on a device."""
    record = drafted(setting)
    record.card = card.as_json()
    fill(record, card, setting)
    return stated({**record_of(record), "supersedes": None, "check": "c" * 32})


def stated(body: Body) -> str:
    """The text that says this of a record on a device."""
    made = Statement(
        type="record.sign",
        actor="b" * 32,
        assurance="device",
        tz=ZONE,
        subject="e" * 32,
        body=body,
        **STATED,
    )
    return made.text().decode()


def _sheet(card: Card, setting: Setting) -> Sheet:
    rows = tuple(
        Row(
            asked,
            setting.course.task_by_code[asked.task],
            card.entry(asked.task),
            frozenset(),
            {},
        )
        for asked in setting.tasks
    )
    return Sheet(
        drafted(setting), setting, card, rows, gauges.read_gauges(card, setting), names={}
    )


def _review(sheet: Sheet) -> Plain:
    """What `templates/lessons/review.html` takes of a sheet."""
    tasks = sheet.setting.course.task_by_code
    outcome, why = proposal(sheet)
    return {
        "flown_on": sheet.flown_on.isoformat() if sheet.flown_on else None,
        "outcome": sheet.card.outcome,
        "proposed": {"outcome": outcome.value, "why": why},
        "facts": _facts(sheet, outcome.value),
        "below": [_below(row) for row in sheet.below],
        "marks": [_mark(task, error.words, error.severity) for task, error in sheet.marks],
        "unconfirmed": [
            _mark(tasks[mark.task], mark.why, mark.severity) for mark in sheet.unconfirmed
        ],
        "readings": [_reading(row) for row in sheet.taken],
        "carried": [row.task.title for row in (*sheet.below, *sheet.unseen)],
        "remarks": sheet.card.remarks,
    }


def _facts(sheet: Sheet, proposed: str) -> Plain:
    card, setting, times = sheet.card, sheet.setting, sheet.times
    style = _style(setting)
    kind = setting.aircraft(card)
    chosen = setting.course.lesson_by_code.get(card.next_lesson)
    named = " ".join(part for part in (kind.name if kind else "", card.ident) if part)
    return {
        "graded": len(sheet.rows) - len(sheet.unseen),
        "tasks": len(sheet.rows),
        "aircraft": named if setting.flies else None,
        "flight": formats.hours(times.flight, style),
        "ground": formats.hours(times.ground, style),
        "landings": times.day_landings + times.night_landings,
        "next_lesson": chosen.title if chosen else sheet.suggested(card.outcome or proposed),
    }


def _below(row: Row) -> Plain:
    scale = row.task.scale
    return {
        "task": row.task.code,
        "title": row.task.title,
        "level": scale.words(row.entry.level),
        "target": scale.words(row.asked.target),
        "remark": row.entry.remark,
    }


def _mark(task: Task, words: str, severity: Severity) -> Plain:
    return {"task": task.code, "title": task.title, "words": words, "severity": severity.value}


def _reading(row: ReadingRow) -> Plain:
    unit = row.reading.unit
    return {
        "code": row.reading.code,
        "words": row.reading.words,
        "typed": row.typed,
        "unit": "" if unit == "yes-no" else unit,
        "met": row.met,
        "held_to": row.held_to,
    }
