"""Enrolments: the one asked for, and those an actor has to do with."""

from collections.abc import Iterable
from datetime import date

from sqlalchemy import ColumnElement, or_, select
from sqlalchemy.orm import Session, joinedload, lazyload

from gradebook.records.faults import ConflictError, UnknownError
from gradebook.records.permissions import Action, Actor, Relation, may
from gradebook.records.store import gate
from gradebook.records.tables.training import Enrolment as Enrolment
from gradebook.records.tables.training import StageApproval as StageApproval
from gradebook.records.tables.training import Teaching
from syllabus.saying import say

WHOLE = joinedload(Enrolment.teaching), joinedload(Enrolment.approvals)
"""Loads an enrolment with who teaches and checks it, in the same statement."""
LISTED = lazyload(Enrolment.teaching), lazyload(Enrolment.approvals)
"""Loads enrolments with the student alone, as lists show them."""


def enrolment(session: Session, actor: Actor, action: Action, enrolment_id: str) -> Enrolment:
    """One enrolment, for this actor and action; UnknownError or ForbiddenError otherwise."""
    row = session.get(Enrolment, enrolment_id, options=WHOLE)
    if row is None:
        raise UnknownError
    gate.authorise(actor, action, gate.relations_to(actor, row), Action.STUDENT_READ)
    return row


def enrolments(
    session: Session, actor: Actor, *, current: bool = True, whole: bool = False
) -> list[Enrolment]:
    """The enrolments whose student this actor may read, by name.

    `current` leaves out ended ones, `whole` loads who teaches and checks as well.
    """
    options = WHOLE if whole else LISTED
    query = select(Enrolment).where(readable(actor)).options(*options)
    if current:
        query = query.where(Enrolment.ended_on.is_(None))
    rows = session.scalars(query.order_by(Enrolment.enrolled_on)).unique()
    return sorted(rows, key=lambda row: (row.student.name, row.enrolled_on))


def readable(actor: Actor) -> ColumnElement[bool]:
    """The condition for enrolments whose student this actor may read."""
    if may(actor, Action.STUDENT_READ):
        return Enrolment.id.is_not(None)
    mine: list[ColumnElement[bool]] = [Enrolment.id.is_(None)]
    if may(actor, Action.STUDENT_READ, frozenset({Relation.SELF})):
        mine.append(Enrolment.student_id == actor.person_id)
    if may(actor, Action.STUDENT_READ, frozenset({Relation.TEACHES})):
        teaching = Enrolment.teaching.any(
            (Teaching.person_id == actor.person_id) & Teaching.until.is_(None)
        )
        mine.append(teaching)
    if may(actor, Action.STUDENT_READ, frozenset({Relation.CHECKS})):
        mine.append(Enrolment.approvals.any(StageApproval.checker_id == actor.person_id))
    return or_(*mine)


def enrolled_on(session: Session, student_id: str, course: str, day: date) -> Enrolment | None:
    """The enrolment of a student in a course begun that day, if there is one."""
    query = select(Enrolment).filter_by(student_id=student_id, course=course, enrolled_on=day)
    return session.scalars(query).unique().one_or_none()


def current_enrolment(session: Session, student_id: str, course: str) -> Enrolment | None:
    """The student's enrolment in the course that has not ended, if there is one."""
    query = select(Enrolment).filter_by(student_id=student_id, course=course, ended_on=None)
    return session.scalars(query).unique().first()


def is_current(row: Enrolment) -> bool:
    """Whether the enrolment has not ended."""
    return row.ended_on is None


def check_current(row: Enrolment) -> None:
    """ConflictError when the enrolment has ended."""
    if not is_current(row):
        raise ConflictError(say("This enrolment has ended already."))


def heads(rows: Iterable[Enrolment]) -> int:
    """How many students these enrolments are of: who has several is one."""
    return len({row.student_id for row in rows})
