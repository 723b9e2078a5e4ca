"""What is signed of a lesson record: itself, the student's answer, that it is void.

The same function signs and proves: a record's body is built from its rows when it is signed,
and built from them again whenever somebody asks whether they still say the same. What is said
of other rows stands in `mirrors`.
"""

from collections.abc import Mapping
from typing import Any

from gradebook.ledger.canonical import canonical
from gradebook.records.mirrors import Body, part_of
from gradebook.records.tables.lessons import LessonRecord

MEANING = "I gave this lesson and these grades are mine."
IMPORT_MEANING = "Entered from earlier records of the school."
ACKNOWLEDGED = "I have seen this record and agree with it."
DISAGREED = "I have seen this record and disagree, for the reason given."


def plain(value: float) -> int | str:
    """Whole numbers as they are, others as text: no float ever enters a statement."""
    return int(value) if value == int(value) else format(value, "g")


def known_of(record: LessonRecord) -> Body:
    """What a record's statement says whatever is graded: known as soon as there is a draft."""
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
        "amends": record.supersedes_id,
        "reason": record.reason,
    }


def record_of(record: LessonRecord) -> Body:
    """Everything the instructor puts their name to, from the record's columns and rows."""
    return {
        **known_of(record),
        "flown_on": None if record.flown_on is None else record.flown_on.isoformat(),
        "aircraft": record.aircraft,
        "outcome": record.outcome,
        "times": {name: plain(value) for name, value in (record.times or {}).items()},
        "remarks": record.remarks,
        "next_lesson": record.next_lesson,
        "grades": [
            part_of(grade) for grade in sorted(record.grades, key=lambda row: row.place)
        ],
        "errors": sorted(map(part_of, record.errors), key=canonical),
        "readings": sorted(map(part_of, record.readings), key=canonical),
        "card": record.card,
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


def says(statement: Mapping[str, Any], row: Mapping[str, Any]) -> bool:
    """Whether a statement's body says all that a row's does, in the same words."""
    said = {name: statement.get(name) for name in row}
    return canonical(said) == canonical(row)
