"""The statement of a lesson record, built from its rows: once to sign, again to verify."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from gradebook.records import signing
from gradebook.records.tables.lessons import ErrorMark, Grade, LessonRecord, ReadingTaken


def _moment(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _grade(grade: Grade) -> dict[str, Any]:
    columns = ("task", "scale", "level", "rank", "target", "meets", "together", "carried_from")
    return {name: getattr(grade, name) for name in columns} | {"remark": grade.remark}


def _error(mark: ErrorMark) -> dict[str, Any]:
    return {name: getattr(mark, name) for name in ("task", "error", "severity", "found")}


def _reading(taken: ReadingTaken) -> dict[str, Any]:
    return {name: getattr(taken, name) for name in ("code", "value", "unit", "within")}


def statement_of(record: LessonRecord) -> dict[str, Any]:
    """Everything the instructor puts their name to, from the record's columns and rows."""
    imported = record.origin == "imported"
    return {
        "format": signing.FORMAT,
        "meaning": signing.IMPORT_MEANING if imported else signing.MEANING,
        "record": record.id,
        "enrolment": record.enrolment_id,
        "student": record.enrolment.student_id,
        "instructor": record.instructor_id,
        "revision": record.revision_id,
        "lesson": record.lesson,
        "kind": record.kind,
        "attempt": record.attempt,
        "flown_on": None if record.flown_on is None else record.flown_on.isoformat(),
        "aircraft": record.aircraft,
        "outcome": record.outcome,
        "times": {name: _plain(value) for name, value in (record.times or {}).items()},
        "remarks": record.remarks,
        "next_lesson": record.next_lesson,
        "grades": [_grade(grade) for grade in sorted(record.grades, key=lambda row: row.place)],
        "errors": sorted((_error(mark) for mark in record.errors), key=signing.canonical),
        "readings": sorted(
            (_reading(taken) for taken in record.readings), key=signing.canonical
        ),
        "flow": list(record.card.get("steps", ())),
        "supersedes": record.supersedes_id,
        "reason": record.reason,
        "signed_at": _moment(record.signed_at),
        "sequence": record.sequence,
        "previous": record.previous,
    }


def _plain(value: float) -> int | str:
    """Whole numbers as they are, others as text: no float ever enters a statement."""
    return int(value) if value == int(value) else format(value, "g")


@dataclass(frozen=True, slots=True)
class Proof:
    """What checking one record's statement found."""

    unaltered: bool
    words: str


def prove(record: LessonRecord) -> Proof:
    """Whether the record's rows still say what was signed."""
    if record.statement is None or record.digest is None:
        return Proof(unaltered=False, words="Not signed.")
    if signing.digest_of(record.statement) != record.digest:
        return Proof(unaltered=False, words="The signed text is not the one that was signed.")
    if signing.canonical(statement_of(record)) != record.statement:
        return Proof(unaltered=False, words="The record differs from the text that was signed.")
    return Proof(unaltered=True, words="Unaltered since it was signed.")


def prove_chain(records: Sequence[LessonRecord]) -> list[tuple[LessonRecord, Proof]]:
    """The records, given in the order of the chain, that do not prove."""
    broken = []
    previous: str | None = None
    for number, record in enumerate(records, start=1):
        proof = prove(record)
        if proof.unaltered and (record.sequence != number or record.previous != previous):
            proof = Proof(unaltered=False, words="A record before this one is missing.")
        if not proof.unaltered:
            broken.append((record, proof))
        previous = record.digest
    return broken
