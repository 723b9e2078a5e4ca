"""Lesson records: the one asked for, a student's, drafts left open, the end of the chain."""

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from gradebook.records import lifecycle
from gradebook.records.faults import UnknownError
from gradebook.records.permissions import Action, Actor
from gradebook.records.store import gate
from gradebook.records.tables.lessons import LessonRecord as LessonRecord
from gradebook.records.tables.lessons import SelfGrade
from gradebook.records.values import State


def lesson_record(
    session: Session, actor: Actor, action: Action, record_id: str
) -> LessonRecord:
    """One record, for this actor and action.

    UnknownError for a stranger, ForbiddenError for a reader who may not act, ConflictError when
    the record's state does not allow the act. A draft is shown to nobody but staff.
    """
    record = session.get(LessonRecord, record_id)
    if record is None:
        raise UnknownError
    relations = gate.relations_to_record(actor, record)
    reading = Action.RECORD_OPEN if record.state == State.DRAFT else Action.RECORD_READ
    wanted = reading if action is Action.RECORD_READ else action
    gate.authorise(actor, wanted, relations, reading)
    if record.state == State.DRAFT and State.DRAFT not in lifecycle.POSSIBLE[action]:
        gate.authorise(actor, reading, relations, reading)
    lifecycle.check_possible(action, State(record.state))
    return record


def records_of(session: Session, enrolment_id: str) -> list[LessonRecord]:
    """Every signed record of an enrolment, superseded ones too, newest first."""
    query = (
        select(LessonRecord)
        .where(LessonRecord.enrolment_id == enrolment_id, LessonRecord.state != State.DRAFT)
        .order_by(LessonRecord.flown_on.desc(), LessonRecord.sequence.desc())
    )
    return list(session.scalars(query).unique())


def drafts(session: Session, enrolment_ids: list[str]) -> list[LessonRecord]:
    """Unsigned records of these enrolments, oldest first."""
    query = select(LessonRecord).where(
        LessonRecord.state == State.DRAFT, LessonRecord.enrolment_id.in_(enrolment_ids)
    )
    return list(session.scalars(query.order_by(LessonRecord.created_at)).unique())


def drafts_by(session: Session, person_id: str) -> list[LessonRecord]:
    """Every unsigned record of this instructor, oldest first."""
    query = select(LessonRecord).filter_by(instructor_id=person_id, state=State.DRAFT.value)
    return list(session.scalars(query.order_by(LessonRecord.created_at)).unique())


def unacknowledged(session: Session, enrolment_ids: list[str]) -> list[LessonRecord]:
    """Signed records the student has not yet acknowledged, oldest first."""
    query = select(LessonRecord).where(
        LessonRecord.state == State.SIGNED,
        LessonRecord.origin == "flown",
        LessonRecord.enrolment_id.in_(enrolment_ids),
    )
    return list(session.scalars(query.order_by(LessonRecord.flown_on)).unique())


def draft_of(
    session: Session, enrolment_id: str, lesson: str, instructor_id: str
) -> LessonRecord | None:
    """An instructor's open draft of a lesson, so that opening it twice makes one."""
    query = select(LessonRecord).filter_by(
        enrolment_id=enrolment_id,
        lesson=lesson,
        instructor_id=instructor_id,
        state=State.DRAFT.value,
        supersedes_id=None,
    )
    return session.scalars(query).unique().first()


def amendments_of(session: Session, record_id: str) -> list[LessonRecord]:
    """Records that amend this one, oldest first."""
    query = select(LessonRecord).where(LessonRecord.supersedes_id == record_id)
    return list(session.scalars(query.order_by(LessonRecord.created_at)).unique())


def self_grades(session: Session, enrolment_id: str) -> list[SelfGrade]:
    """How the student judged their own tasks, oldest first."""
    query = select(SelfGrade).where(SelfGrade.enrolment_id == enrolment_id)
    return list(session.scalars(query.order_by(SelfGrade.made_at)))


def unsigned_counts(session: Session, enrolment_ids: list[str]) -> dict[str, int]:
    """How many drafts each enrolment has; those without any are left out."""
    query = (
        select(LessonRecord.enrolment_id, func.count())
        .where(LessonRecord.state == State.DRAFT, LessonRecord.enrolment_id.in_(enrolment_ids))
        .group_by(LessonRecord.enrolment_id)
    )
    return {row[0]: row[1] for row in session.execute(query)}


def lesson_days(session: Session) -> set[tuple[str, str, str]]:
    """(enrolment, lesson, ISO day) of every record that counts, for finding doubles."""
    query = select(LessonRecord.enrolment_id, LessonRecord.lesson, LessonRecord.flown_on)
    rows = session.execute(query.where(LessonRecord.state.in_(lifecycle.EFFECTIVE)))
    return {(row[0], row[1], row[2].isoformat()) for row in rows if row[2]}


def attempts(session: Session) -> dict[tuple[str, str], int]:
    """How many counting records each (enrolment, lesson) has."""
    columns = (LessonRecord.enrolment_id, LessonRecord.lesson)
    query = select(*columns, func.count()).where(LessonRecord.state.in_(lifecycle.EFFECTIVE))
    return {(row[0], row[1]): row[2] for row in session.execute(query.group_by(*columns))}
