"""Lesson records and what they hold. A draft is one card; grades become rows at signing."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import CheckConstraint, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from gradebook.records.tables.columns import Code, EnrolmentId, Id, RecordId, Table, Words
from gradebook.records.tables.people import Person
from gradebook.records.tables.training import Enrolment
from gradebook.records.values import Outcome, State

STATES = ", ".join(f"'{state.value}'" for state in State)
OUTCOMES = ", ".join(f"'{outcome.value}'" for outcome in Outcome)


class LessonRecord(Table):
    """What happened at one lesson on one date.

    `card` is the draft (and, once signed, its last state). `sequence` is the place of the
    signed statement in the ledger and `digest` its SHA-256. `version` rises with every save.
    """

    __tablename__ = "lesson_record"
    id: Mapped[Id]
    enrolment_id: Mapped[EnrolmentId]
    revision_id: Mapped[str] = mapped_column(String(64), ForeignKey("revision.id"))
    lesson: Mapped[Code]
    kind: Mapped[Code]
    attempt: Mapped[int]
    instructor_id: Mapped[str] = mapped_column(String(32), ForeignKey("person.id"), index=True)
    state: Mapped[Code]
    origin: Mapped[str] = mapped_column(String(10), default="flown")
    version: Mapped[int] = mapped_column(default=1)
    card: Mapped[dict[str, Any]]
    created_at: Mapped[datetime]
    saved_at: Mapped[datetime]
    flown_on: Mapped[date | None]
    outcome: Mapped[str | None] = mapped_column(String(20))
    aircraft: Mapped[str | None] = mapped_column(String(60))
    times: Mapped[dict[str, Any] | None]
    remarks: Mapped[Words]
    next_lesson: Mapped[str | None] = mapped_column(String(60))
    sequence: Mapped[int | None] = mapped_column(unique=True)
    signed_at: Mapped[datetime | None]
    digest: Mapped[str | None] = mapped_column(String(64))
    acknowledged_at: Mapped[datetime | None]
    agrees: Mapped[bool | None]
    comment: Mapped[Words]
    supersedes_id: Mapped[str | None] = mapped_column(
        String(32), ForeignKey("lesson_record.id"), index=True
    )
    reason: Mapped[Words]
    voided_at: Mapped[datetime | None]
    void_reason: Mapped[Words]
    enrolment: Mapped[Enrolment] = relationship(lazy="joined", innerjoin=True)
    instructor: Mapped[Person] = relationship(lazy="joined", innerjoin=True)
    grades: Mapped[list["Grade"]] = relationship(order_by="Grade.place", viewonly=True)
    errors: Mapped[list["ErrorMark"]] = relationship(viewonly=True)
    readings: Mapped[list["ReadingTaken"]] = relationship(viewonly=True)
    __table_args__ = (
        CheckConstraint(f"state IN ({STATES})", name="state"),
        CheckConstraint(f"outcome IN ({OUTCOMES})", name="outcome"),
        CheckConstraint("(state = 'draft') = (digest IS NULL)", name="signed"),
        CheckConstraint("(state = 'draft') = (sequence IS NULL)", name="placed"),
        CheckConstraint("(state = 'void') = (voided_at IS NOT NULL)", name="voided"),
        CheckConstraint("state = 'draft' OR flown_on IS NOT NULL", name="flown"),
        CheckConstraint("(acknowledged_at IS NULL) = (agrees IS NULL)", name="acknowledged"),
        CheckConstraint("supersedes_id IS NULL OR reason <> ''", name="reason"),
        CheckConstraint("origin IN ('flown', 'imported')", name="origin"),
        Index("ix_lesson_record_effective", "state", "enrolment_id", "flown_on"),
    )


class Grade(Table):
    """One task of one signed record. `rank`, `meets` are empty for a state not counted."""

    __tablename__ = "grade"
    id: Mapped[Id]
    record_id: Mapped[RecordId]
    place: Mapped[int]
    task: Mapped[Code]
    scale: Mapped[Code]
    level: Mapped[Code]
    rank: Mapped[int | None]
    target: Mapped[Code]
    meets: Mapped[bool | None]
    together: Mapped[bool] = mapped_column(default=False)
    carried_from: Mapped[str | None] = mapped_column(String(60))
    remark: Mapped[Words]
    __table_args__ = (CheckConstraint("(rank IS NULL) = (meets IS NULL)", name="counted"),)


class ErrorMark(Table):
    """One error seen in one task of one signed record. `found` says tapped, flow or reading."""

    __tablename__ = "error_mark"
    id: Mapped[Id]
    record_id: Mapped[RecordId]
    task: Mapped[Code]
    error: Mapped[Code]
    severity: Mapped[Code]
    found: Mapped[str] = mapped_column(String(10))
    __table_args__ = (CheckConstraint("found IN ('tapped', 'flow', 'reading')", name="found"),)


class ReadingTaken(Table):
    """A reading of one signed record, as typed, with the verdict it got that day."""

    __tablename__ = "reading_taken"
    id: Mapped[Id]
    record_id: Mapped[RecordId]
    code: Mapped[Code]
    value: Mapped[str] = mapped_column(String(20))
    unit: Mapped[str] = mapped_column(String(20))
    within: Mapped[bool | None]


class SelfGrade(Table):
    """How the student judged a task before seeing the instructor's grade."""

    __tablename__ = "self_grade"
    id: Mapped[Id]
    enrolment_id: Mapped[EnrolmentId]
    lesson: Mapped[Code]
    attempt: Mapped[int]
    task: Mapped[Code]
    level: Mapped[Code]
    made_at: Mapped[datetime]
    __table_args__ = (
        Index("ix_self_grade_one", "enrolment_id", "lesson", "attempt", "task", unique=True),
    )
