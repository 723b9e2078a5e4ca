"""What is taught to whom: syllabus revisions, enrolments, who teaches, what is on file."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import CheckConstraint, ForeignKey, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from gradebook.records.tables.columns import Code, EnrolmentId, Id, PersonId, Table, Words
from gradebook.records.tables.people import Person


class Revision(Table):
    """One published state of a course, whole: `files` is a JSON object of path to text."""

    __tablename__ = "revision"
    id: Mapped[str] = mapped_column(String(64), primary_key=True)
    course: Mapped[Code]
    title: Mapped[str] = mapped_column(String(200))
    files: Mapped[str] = mapped_column(Text)
    published_at: Mapped[datetime]
    published_by: Mapped[str | None] = mapped_column(String(32), ForeignKey("person.id"))


class Enrolment(Table):
    """A student in one course at one revision."""

    __tablename__ = "enrolment"
    id: Mapped[Id]
    student_id: Mapped[PersonId]
    revision_id: Mapped[str] = mapped_column(String(64), ForeignKey("revision.id"))
    course: Mapped[Code]
    enrolled_on: Mapped[date]
    ended_on: Mapped[date | None]
    ended_how: Mapped[str | None] = mapped_column(String(20))
    created_at: Mapped[datetime]
    student: Mapped[Person] = relationship(lazy="joined", innerjoin=True)
    teaching: Mapped[list["Teaching"]] = relationship(lazy="selectin")
    approvals: Mapped[list["StageApproval"]] = relationship(lazy="selectin")
    __table_args__ = (
        UniqueConstraint("student_id", "course", "enrolled_on"),
        CheckConstraint("(ended_on IS NULL) = (ended_how IS NULL)", name="end"),
        CheckConstraint("ended_how IN ('graduated', 'terminated', 'transferred')", name="how"),
    )


class Teaching(Table):
    """An instructor assigned to an enrolment; one of them is the principal instructor."""

    __tablename__ = "teaching"
    id: Mapped[Id]
    enrolment_id: Mapped[EnrolmentId]
    person_id: Mapped[PersonId]
    principal: Mapped[bool] = mapped_column(default=False)
    since: Mapped[datetime]
    until: Mapped[datetime | None]
    person: Mapped[Person] = relationship(lazy="joined", innerjoin=True)


class FiledEvent(Table):
    """A document, endorsement, medical or test result on a student's file."""

    __tablename__ = "filed_event"
    id: Mapped[Id]
    enrolment_id: Mapped[EnrolmentId]
    kind: Mapped[Code]
    code: Mapped[Code]
    happened_on: Mapped[date]
    expires_on: Mapped[date | None]
    passed: Mapped[bool] = mapped_column(default=True)
    words: Mapped[Words]
    filed_by: Mapped[str] = mapped_column(String(32), ForeignKey("person.id"))
    filed_at: Mapped[datetime]


class StageApproval(Table):
    """A stage check: who recommended, who approved, who checks, and why an exception."""

    __tablename__ = "stage_approval"
    id: Mapped[Id]
    enrolment_id: Mapped[EnrolmentId]
    stage: Mapped[Code]
    recommended_by: Mapped[str] = mapped_column(String(32), ForeignKey("person.id"))
    recommended_at: Mapped[datetime]
    approved_by: Mapped[str | None] = mapped_column(String(32), ForeignKey("person.id"))
    approved_at: Mapped[datetime | None]
    checker_id: Mapped[str | None] = mapped_column(String(32), ForeignKey("person.id"))
    reason: Mapped[Words]
    not_independent: Mapped[bool] = mapped_column(default=False)
    record_id: Mapped[str | None] = mapped_column(String(32), ForeignKey("lesson_record.id"))
    snapshot: Mapped[dict[str, Any]]
    __table_args__ = (
        CheckConstraint("(approved_by IS NULL) = (checker_id IS NULL)", name="approved"),
    )


class CloseDecision(Table):
    """A signed decision to close a watch item, with its reason."""

    __tablename__ = "close_decision"
    id: Mapped[Id]
    enrolment_id: Mapped[EnrolmentId]
    task: Mapped[Code]
    error: Mapped[Code]
    decided_by: Mapped[str] = mapped_column(String(32), ForeignKey("person.id"))
    decided_on: Mapped[date]
    decided_at: Mapped[datetime]
    reason: Mapped[Words]
