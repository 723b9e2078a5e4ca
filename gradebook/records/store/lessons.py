"""Lesson records: the one asked for, a student's, drafts left open, the end of the chain."""

from datetime import datetime
from typing import Any

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session, defer, joinedload

from gradebook.records import lifecycle
from gradebook.records.faults import UnknownError
from gradebook.records.permissions import Action, Actor
from gradebook.records.store import enrolments, gate
from gradebook.records.store.together import Asked
from gradebook.records.tables.lessons import LessonRecord as LessonRecord
from gradebook.records.tables.lessons import SelfGrade
from gradebook.records.values import State

WHOLE = joinedload(LessonRecord.enrolment, innerjoin=True).options(*enrolments.WHOLE)
"""Loads a record with its enrolment, and who teaches and checks that, in the same statement."""
LISTED = (
    joinedload(LessonRecord.enrolment, innerjoin=True).options(*enrolments.LISTED),
    defer(LessonRecord.card),
)
"""Loads records with the student's name alone and without their card, as lists show them."""
ALL = (
    select(LessonRecord)
    .where(LessonRecord.enrolment_id == bindparam("enrolment"))
    .options(*LISTED)
    .order_by(LessonRecord.created_at)
)
OPEN_ENDS = (
    select(LessonRecord)
    .where(
        (LessonRecord.state == State.DRAFT)
        | ((LessonRecord.state == State.SIGNED) & (LessonRecord.origin == "flown"))
        | ((LessonRecord.state == State.ACKNOWLEDGED) & LessonRecord.agrees.is_(False)),
        LessonRecord.enrolment_id.in_(bindparam("enrolments", expanding=True)),
    )
    .options(*LISTED)
    .order_by(LessonRecord.flown_on, LessonRecord.created_at)
)


def lesson_record(
    session: Session, actor: Actor, action: Action, record_id: str
) -> LessonRecord:
    """One record, for this actor and action.

    UnknownError for a stranger, ForbiddenError for a reader who may not act, ConflictError when
    the record's state does not allow the act. A draft is shown to nobody but staff.
    """
    record = session.get(LessonRecord, record_id, options=[WHOLE])
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
    return [row for row in all_of(session, enrolment_id) if row.state != State.DRAFT]


def all_of(session: Session, enrolment_id: str) -> list[LessonRecord]:
    """Every record of an enrolment: signed ones newest first, then drafts, oldest first."""
    rows = session.scalars(ALL, {"enrolment": enrolment_id}).unique()
    return sorted(rows, key=_newest_first)


def _newest_first(row: LessonRecord) -> tuple[bool, int, int]:
    if row.state == State.DRAFT or row.flown_on is None:
        return True, 0, 0
    return False, -row.flown_on.toordinal(), -(row.sequence or 0)


def open_ends(session: Session, enrolment_ids: list[str]) -> list[LessonRecord]:
    """Drafts, records not yet acknowledged, and those disagreed with; oldest first."""
    return list(session.scalars(OPEN_ENDS, {"enrolments": enrolment_ids}).unique())


def drafts(rows: list[LessonRecord]) -> list[LessonRecord]:
    """The unsigned ones among these, oldest first."""
    found = (row for row in rows if row.state == State.DRAFT)
    return sorted(found, key=lambda row: row.created_at)


def unacknowledged(rows: list[LessonRecord]) -> list[LessonRecord]:
    """The ones among these that wait for the student's answer, in the order given."""
    return [row for row in rows if row.state == State.SIGNED and row.origin == "flown"]


def disagreed(rows: list[LessonRecord], since: datetime | None = None) -> list[LessonRecord]:
    """The ones among these whose student disagreed (since then), latest answer first.

    A record that was amended or declared void is no longer among them: something was done.
    """
    answered = [(row.acknowledged_at, row) for row in rows if row.acknowledged_at]
    found = [one for one in answered if since is None or one[0] >= since]
    return [row for _, row in sorted(found, key=lambda one: one[0], reverse=True)]


OPEN_DRAFTS = Asked(
    select(
        LessonRecord.id,
        LessonRecord.lesson,
        LessonRecord.instructor_id,
        LessonRecord.created_at,
    ).where(
        LessonRecord.enrolment_id == bindparam("drafts_of"), LessonRecord.state == State.DRAFT
    )
)


AMENDMENTS = Asked(
    select(LessonRecord.id, LessonRecord.supersedes_id).where(
        LessonRecord.enrolment_id == bindparam("amended_of"),
        LessonRecord.supersedes_id.is_not(None),
        LessonRecord.state != State.DRAFT,
    )
)


def drafts_by(session: Session, person_id: str) -> list[LessonRecord]:
    """Every unsigned record of this instructor, oldest first."""
    query = select(LessonRecord).filter_by(instructor_id=person_id, state=State.DRAFT.value)
    return list(session.scalars(query.order_by(LessonRecord.created_at)).unique())


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


JUDGED = Asked(
    select(SelfGrade.lesson, SelfGrade.attempt, SelfGrade.task, SelfGrade.level)
    .where(SelfGrade.enrolment_id == bindparam("judged_enrolment"))
    .order_by(SelfGrade.made_at)
)


def judged(enrolment_id: str) -> Asked:
    """Asks for how the student judged their own tasks."""
    return JUDGED.of(judged_enrolment=enrolment_id)


def self_grades(session: Session, enrolment_id: str) -> list[Any]:
    """How the student judged their own tasks, oldest first."""
    return list(judged(enrolment_id).rows(session))


def lesson_days(session: Session) -> set[tuple[str, str, str]]:
    """(enrolment, lesson, ISO day) of every record that counts, for finding doubles."""
    query = select(LessonRecord.enrolment_id, LessonRecord.lesson, LessonRecord.flown_on)
    rows = session.execute(query.where(LessonRecord.state.in_(lifecycle.EFFECTIVE)))
    return {(row[0], row[1], row[2].isoformat()) for row in rows if row[2]}


def attempts(session: Session) -> dict[tuple[str, str], int]:
    """The last attempt of each (enrolment, lesson), among the records that count."""
    columns = (LessonRecord.enrolment_id, LessonRecord.lesson)
    counted = (func.count(), func.max(LessonRecord.attempt))
    query = select(*columns, *counted).where(LessonRecord.state.in_(lifecycle.EFFECTIVE))
    rows = session.execute(query.group_by(*columns))
    return {(row[0], row[1]): max(row[2], row[3]) for row in rows}
