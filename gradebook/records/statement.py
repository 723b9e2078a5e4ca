"""What a signed statement says of each thing, worked out from its rows.

The same functions sign and prove: a statement's body is built from the rows when it is signed,
and built from them again whenever somebody asks whether they still say the same.
"""

from collections.abc import Mapping
from typing import Any

from gradebook import clock
from gradebook.ledger.canonical import canonical
from gradebook.records.tables.lessons import ErrorMark, Grade, LessonRecord, ReadingTaken
from gradebook.records.tables.people import RoleGrant
from gradebook.records.tables.training import (
    CloseDecision,
    Enrolment,
    FiledEvent,
    StageApproval,
    Teaching,
)

MEANING = "I gave this lesson and these grades are mine."
IMPORT_MEANING = "Entered from earlier records of the school."
ACKNOWLEDGED = "I have seen this record and agree with it."
DISAGREED = "I have seen this record and disagree, for the reason given."

Body = dict[str, Any]


def _grade(grade: Grade) -> Body:
    columns = ("task", "scale", "level", "rank", "target", "meets", "together", "carried_from")
    return {name: getattr(grade, name) for name in columns} | {"remark": grade.remark}


def _error(mark: ErrorMark) -> Body:
    return {name: getattr(mark, name) for name in ("task", "error", "severity", "found")}


def _reading(taken: ReadingTaken) -> Body:
    return {name: getattr(taken, name) for name in ("code", "value", "unit", "within")}


def plain(value: float) -> int | str:
    """Whole numbers as they are, others as text: no float ever enters a statement."""
    return int(value) if value == int(value) else format(value, "g")


def record_of(record: LessonRecord) -> Body:
    """Everything the instructor puts their name to, from the record's columns and rows."""
    imported = record.origin == "imported"
    return {
        "meaning": IMPORT_MEANING if imported else MEANING,
        "record": record.id,
        "enrolment": record.enrolment_id,
        "student": record.enrolment.student_id,
        "instructor": record.instructor_id,
        "origin": record.origin,
        "revision": record.revision_id,
        "lesson": record.lesson,
        "kind": record.kind,
        "attempt": record.attempt,
        "flown_on": None if record.flown_on is None else record.flown_on.isoformat(),
        "aircraft": record.aircraft,
        "outcome": record.outcome,
        "times": {name: plain(value) for name, value in (record.times or {}).items()},
        "remarks": record.remarks,
        "next_lesson": record.next_lesson,
        "grades": [_grade(grade) for grade in sorted(record.grades, key=lambda row: row.place)],
        "errors": sorted((_error(mark) for mark in record.errors), key=canonical),
        "readings": sorted((_reading(taken) for taken in record.readings), key=canonical),
        "card": record.card,
        "amends": record.supersedes_id,
        "reason": record.reason,
    }


def answer_of(record: LessonRecord) -> Body:
    """What the student answered to a record, and to which text of it."""
    return {
        "meaning": ACKNOWLEDGED if record.agrees else DISAGREED,
        "record": record.id,
        "statement": record.digest,
        "agrees": record.agrees,
        "comment": record.comment,
    }


def void_of(record: LessonRecord) -> Body:
    """That a record does not count, and why."""
    return {"record": record.id, "voids": record.digest, "reason": record.void_reason}


def enrolment_of(row: Enrolment) -> Body:
    """Who began which course, when, at which revision."""
    return {
        "enrolment": row.id,
        "student": row.student_id,
        "course": row.course,
        "revision": row.revision_id,
        "enrolled_on": row.enrolled_on.isoformat(),
    }


def ending_of(row: Enrolment) -> Body:
    """How and when an enrolment ended."""
    ended = None if row.ended_on is None else row.ended_on.isoformat()
    return {"enrolment": row.id, "ended_on": ended, "how": row.ended_how}


def teaching_of(row: Teaching) -> Body:
    """Who teaches, as principal instructor or besides, from when."""
    return {
        "teaching": row.id,
        "enrolment": row.enrolment_id,
        "instructor": row.person_id,
        "principal": row.principal,
        "since": clock.zulu(row.since),
    }


def teaching_end_of(row: Teaching) -> Body:
    """Until when somebody taught."""
    until = None if row.until is None else clock.zulu(row.until)
    return {"teaching": row.id, "enrolment": row.enrolment_id, "until": until}


def event_of(row: FiledEvent) -> Body:
    """A document, endorsement, medical or test result, as it was put on file."""
    expires = None if row.expires_on is None else row.expires_on.isoformat()
    return {
        "event": row.id,
        "enrolment": row.enrolment_id,
        "kind": row.kind,
        "code": row.code,
        "happened_on": row.happened_on.isoformat(),
        "expires_on": expires,
        "passed": row.passed,
        "words": row.words,
    }


def recommendation_of(row: StageApproval) -> Body:
    """Who recommended a stage check, and how ready the student was then."""
    return {
        "check": row.id,
        "enrolment": row.enrolment_id,
        "stage": row.stage,
        "recommended_by": row.recommended_by,
        "snapshot": row.snapshot,
    }


def approval_of(row: StageApproval) -> Body:
    """Who approved a stage check, who is to conduct it, and what exception was made."""
    return {
        "check": row.id,
        "enrolment": row.enrolment_id,
        "stage": row.stage,
        "approved_by": row.approved_by,
        "checker": row.checker_id,
        "reason": row.reason,
        "not_independent": row.not_independent,
    }


def decision_of(row: CloseDecision) -> Body:
    """A watch item closed by decision, and why."""
    return {
        "decision": row.id,
        "enrolment": row.enrolment_id,
        "task": row.task,
        "error": row.error,
        "decided_on": row.decided_on.isoformat(),
        "reason": row.reason,
    }


def grant_of(row: RoleGrant) -> Body:
    """A role that somebody holds from now on."""
    return {"grant": row.id, "person": row.person_id, "role": row.role}


def grant_end_of(row: RoleGrant) -> Body:
    """That somebody holds a role no longer."""
    revoked = None if row.revoked_at is None else clock.zulu(row.revoked_at)
    return {"grant": row.id, "person": row.person_id, "revoked_at": revoked}


def says(statement: Mapping[str, Any], row: Mapping[str, Any]) -> bool:
    """Whether a statement's body says all that a row's does, in the same words."""
    said = {name: statement.get(name) for name in row}
    return canonical(said) == canonical(row)
