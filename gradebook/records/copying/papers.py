"""Everything about one enrolment that a copy is made of."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from gradebook.records.readiness import StudentFile
from gradebook.records.tables.ledger import ForeignRecord
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.people import Person, School
from gradebook.records.tables.training import CloseDecision, Enrolment, FiledEvent
from syllabus.course import Course


class Purpose(StrEnum):
    """Why a copy is made; all but the last are certified by the chief instructor."""

    GRADUATION = "graduation"
    TERMINATION = "termination"
    TRANSFER = "transfer"
    COPY = "copy"
    OWN = "own copy"


ENDED: Mapping[Purpose, str] = {
    Purpose.GRADUATION: "graduated",
    Purpose.TERMINATION: "terminated",
    Purpose.TRANSFER: "transferred",
}
"""How the enrolment must have ended to be certified for a purpose."""

MEANING: Mapping[Purpose, str] = {
    Purpose.GRADUATION: (
        "I certify that this student has graduated from this course, and that this is the "
        "whole of the training record that the school holds of it."
    ),
    Purpose.TERMINATION: (
        "I certify that this student's training in this course ended before graduation, and "
        "that this is the whole of the training record that the school holds of it."
    ),
    Purpose.TRANSFER: (
        "I certify that this student has transferred from this school, and that this is the "
        "whole of the training record that the school holds of this course."
    ),
    Purpose.COPY: (
        "I certify that this is the whole of the training record that the school holds of this "
        "student in this course to date."
    ),
    Purpose.OWN: (
        "Made by the school's server at the student's request and signed with the school's "
        "key. No person has certified it."
    ),
}


@dataclass(frozen=True, slots=True)
class Said:
    """Where something was stated: the entry of the ledger, and its body."""

    seq: int
    body: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Certification:
    """Who certifies, for which purpose and when; `by` is None for the school's own server."""

    purpose: Purpose
    by: Person | None
    at: datetime
    zone: str


@dataclass(frozen=True)
class Papers:
    """The rows of one enrolment, loaded; `said` finds statements by kind and id."""

    school: School
    enrolment: Enrolment
    courses: Mapping[str, Course]
    records: Sequence[LessonRecord]
    events: Sequence[FiledEvent]
    decisions: Sequence[CloseDecision]
    foreign: Sequence[ForeignRecord]
    people: Mapping[str, Person]
    file: StudentFile
    own_grades: Mapping[tuple[str, int, str], str]
    said: Mapping[tuple[str, str], Said] = field(default_factory=dict)
    assurance: Mapping[int, str] = field(default_factory=dict)

    @property
    def course(self) -> Course:
        """The course at the revision the student is enrolled in."""
        return self.courses[self.enrolment.revision_id]

    def name(self, person_id: str | None) -> str:
        """Somebody's name; empty for nobody."""
        person = self.people.get(person_id or "")
        return person.name if person else ""

    def number(self, person_id: str | None) -> str:
        """Somebody's certificate number; empty without one."""
        person = self.people.get(person_id or "")
        return person.certificate if person else ""

    def entry(self, kind: str, name: str) -> int | None:
        """The place in the ledger of a statement of this kind about this id."""
        found = self.said.get((kind, name))
        return found.seq if found else None

    def last_day(self, today: date) -> date:
        """The day up to which the record is judged: its end, or today."""
        return self.enrolment.ended_on or today
