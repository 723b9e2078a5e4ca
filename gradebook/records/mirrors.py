"""Which columns of which table repeat what of which statement: one list, read both ways.

`body_of` makes a statement's body of a row; `rebuilding` says what a row holds by a statement.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from gradebook import clock
from gradebook.records.tables import Table
from gradebook.records.tables.lessons import ErrorMark, Grade, LessonRecord, ReadingTaken
from gradebook.records.tables.people import RoleGrant
from gradebook.records.tables.training import (
    CloseDecision,
    Enrolment,
    FiledEvent,
    StageApproval,
    Teaching,
)

Body = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Mirror:
    """Which column of a table repeats what of a statement.

    `said` is column to name in the body; `by` holds who signed, `at` when it was signed.
    `also` are columns said again for whoever reads the statement alone.
    """

    table: type[Table]
    said: Mapping[str, str]
    by: str = ""
    at: str = ""
    also: Mapping[str, str] = field(default_factory=dict)


def _said(same: str = "", **named: str) -> dict[str, str]:
    """Columns named as in the body, and columns with another name there."""
    return {name: name for name in same.split()} | named


MADE: Mapping[str, Mirror] = {
    "role.grant": Mirror(
        RoleGrant, _said("role", id="grant", person_id="person"), at="granted_at"
    ),
    "enrolment.enrol": Mirror(
        Enrolment,
        _said(
            "course enrolled_on", id="enrolment", student_id="student", revision_id="revision"
        ),
        at="created_at",
    ),
    "enrolment.assign": Mirror(
        Teaching,
        _said(
            "principal since", id="teaching", enrolment_id="enrolment", person_id="instructor"
        ),
    ),
    "event.file": Mirror(
        FiledEvent,
        _said(
            "kind code happened_on expires_on passed words",
            id="event",
            enrolment_id="enrolment",
        ),
        by="filed_by",
        at="filed_at",
    ),
    "watch.close": Mirror(
        CloseDecision,
        _said("task error decided_on reason", id="decision", enrolment_id="enrolment"),
        by="decided_by",
        at="decided_at",
    ),
    "record.sign": Mirror(
        LessonRecord,
        _said(
            "lesson kind attempt origin flown_on aircraft outcome times remarks next_lesson"
            " card reason",
            id="record",
            enrolment_id="enrolment",
            revision_id="revision",
            instructor_id="instructor",
            supersedes_id="amends",
        ),
        at="signed_at",
    ),
    "check.recommend": Mirror(
        StageApproval,
        _said("stage recommended_by snapshot", id="check", enrolment_id="enrolment"),
        at="recommended_at",
    ),
}
"""Statements that make a row, in an order in which no row refers to one of a later table."""

_ANSWER = Mirror(LessonRecord, _said("agrees comment", id="record"), at="acknowledged_at")
CHANGES: Mapping[str, Mirror] = {
    "record.acknowledge": _ANSWER,
    "record.disagree": _ANSWER,
    "record.void": Mirror(
        LessonRecord, _said(id="record", void_reason="reason"), at="voided_at"
    ),
    "enrolment.end": Mirror(Enrolment, _said("ended_on", id="enrolment", ended_how="how")),
    "enrolment.unassign": Mirror(
        Teaching, _said("until", id="teaching"), also=_said(enrolment_id="enrolment")
    ),
    "check.approve": Mirror(
        StageApproval,
        _said("approved_by reason not_independent", id="check", checker_id="checker"),
        at="approved_at",
        also=_said("stage", enrolment_id="enrolment"),
    ),
    "role.revoke": Mirror(
        RoleGrant, _said("revoked_at", id="grant"), also=_said(person_id="person")
    ),
}
"""Statements that say more of a row that is there; the last one of its kind holds."""


PARTS: Mapping[type[Table], tuple[str, tuple[str, ...]]] = {
    Grade: (
        "grades",
        (
            *("task", "scale", "level", "rank", "target", "meets"),
            *("together", "carried_from", "remark"),
        ),
    ),
    ErrorMark: ("errors", ("task", "error", "severity", "found")),
    ReadingTaken: ("readings", ("code", "value", "unit", "within")),
}
"""The rows that hang on a lesson record: where its statement lists them, and their columns."""


def body_of(kind: str, row: Table) -> Body:
    """What a statement of this kind says of a row."""
    mirror = MADE.get(kind) or CHANGES[kind]
    columns = {**mirror.said, **mirror.also}
    return {said: _written(getattr(row, column)) for column, said in columns.items()}


def _written(value: object) -> object:
    """A value of a column as statements write it."""
    if isinstance(value, datetime):
        return clock.zulu(value)
    return value.isoformat() if isinstance(value, date) else value


def part_of(row: Table) -> Body:
    """What a lesson record's statement says of a row that hangs on it."""
    return {name: getattr(row, name) for name in PARTS[type(row)][1]}
