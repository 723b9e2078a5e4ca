"""The main screens of the demo school, each as the person whose question it answers sees it."""

from collections.abc import Iterator
from dataclasses import dataclass

from flask import Flask
from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.demo.endings import DRAFTED
from gradebook.demo_accounts import DOORS
from gradebook.records.tables.lessons import Grade, LessonRecord
from gradebook.records.tables.people import Person
from gradebook.records.tables.training import Enrolment
from gradebook.records.values import State

ACCOUNTS = dict(DOORS)
CHIEF, AUDITOR = ACCOUNTS["chief instructor"], ACCOUNTS["auditor"]


@dataclass(frozen=True, slots=True)
class Screen:
    """A screen: its name, who looks at it (e-mail; empty: nobody signed in), where it is."""

    name: str
    email: str
    path: str


def screens(app: Flask) -> Iterator[Screen]:
    """The screens of the look's own table, about the student whose lesson waits unsigned."""
    with app.extensions["windtee"].database.read() as session:
        student = _one(session, Person.email == DRAFTED)
        query = select(Enrolment).where(Enrolment.student_id == student.id)
        row = session.scalars(query).unique().one()
        draft = _record(session, row, State.DRAFT)
        record = _record(session, row, State.ACKNOWLEDGED)
        graded = select(Grade.task).where(Grade.record_id == record.id)
        task = session.scalars(graded.order_by(Grade.place)).first()
        teacher = draft.instructor.email
        revision = row.revision_id
    home = f"/students/{row.id}"
    yield Screen("instructor's day", teacher, "/")
    yield Screen("grading card", teacher, f"/lessons/{draft.id}")
    yield Screen("flow run", teacher, f"/lessons/{draft.id}/flow")
    yield Screen("review and sign", teacher, f"/lessons/{draft.id}/review")
    yield Screen("student's page", DRAFTED, home)
    yield Screen("task page", DRAFTED, f"{home}/tasks/{task}")
    yield Screen("lesson record", DRAFTED, f"/records/{record.id}")
    yield Screen("readiness board", CHIEF, "/readiness")
    yield Screen("stage check", CHIEF, f"{home}/readiness/stage-1")
    yield Screen("school watch", CHIEF, "/school")
    yield Screen("record audit", AUDITOR, "/audit")
    yield Screen("syllabus", teacher, f"/syllabus/{revision}")


def _one(session: Session, wanted: bool) -> Person:
    return session.scalars(select(Person).where(wanted)).one()


def _record(session: Session, row: Enrolment, state: State) -> LessonRecord:
    query = select(LessonRecord).where(LessonRecord.enrolment_id == row.id)
    found = session.scalars(query.where(LessonRecord.state == state)).unique().first()
    assert found is not None
    return found
