"""Bringing a draft back that was thrown away a moment ago, out of the audit trail."""

from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.records.act import Act
from gradebook.records.commands import opening
from gradebook.records.faults import ConflictError, UnknownError
from gradebook.records.lifecycle import EFFECTIVE
from gradebook.records.permissions import Action
from gradebook.records.store import courses, enrolments, lessons
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.training import Enrolment
from gradebook.records.values import State
from syllabus.saying import say

WHILE = timedelta(hours=1)
"""How long a draft can be brought back."""


def restore_record(act: Act, record_id: str) -> LessonRecord:
    """The draft as it was, its version one higher, so that no older copy can overwrite it.

    UnknownError for anybody but who threw it away, ConflictError when it is too late or when
    another draft, an amendment or the end of the enrolment has taken its place.
    """
    event = _thrown_away(act.session, record_id, act.at)
    if event is None or event.actor_id != act.actor.person_id or not event.enrolment_id:
        raise UnknownError
    enrolment = enrolments.enrolment(
        act.session, act.actor, Action.RECORD_OPEN, event.enrolment_id
    )
    if act.session.get(LessonRecord, record_id) is not None:
        raise ConflictError(say("This draft is back already."))
    if enrolment.ended_on is not None:
        raise ConflictError(say("This enrolment has ended; no lesson can be added to it."))
    draft = event.facts["draft"]
    _check_place(act.session, enrolment, event.facts["lesson"], draft)
    record = _made(act, enrolment, record_id, event.facts)
    act.note(
        Action.RECORD_OPEN, record.id, enrolment.id, lesson=record.lesson, brought_back=True
    )
    return record


def _thrown_away(session: Session, record_id: str, now: datetime) -> AuditEvent | None:
    query = select(AuditEvent).where(
        AuditEvent.at >= now - WHILE,
        AuditEvent.action == Action.RECORD_DISCARD.value,
        AuditEvent.object_id == record_id,
    )
    return session.scalars(query.order_by(AuditEvent.id.desc())).first()


def _check_place(
    session: Session, enrolment: Enrolment, lesson: str, draft: dict[str, Any]
) -> None:
    """Return when nothing stands in the draft's place; else ConflictError."""
    amended = draft["supersedes"]
    if amended is None:
        taken = lessons.draft_of(session, enrolment.id, lesson, draft["instructor"])
        if taken is not None:
            raise ConflictError(
                say("A new card of this lesson is open meanwhile: sign it or throw it away.")
            )
        return
    original = session.get_one(LessonRecord, amended)
    drafts = lessons.amendments_of(session, amended)
    if original.state not in EFFECTIVE or any(row.state == State.DRAFT for row in drafts):
        raise ConflictError(say("The record has been amended or declared void meanwhile."))


def _made(act: Act, enrolment: Enrolment, record_id: str, kept: dict[str, Any]) -> LessonRecord:
    draft = kept["draft"]
    lesson = courses.course_of(act.session, draft["revision"]).lesson_by_code[kept["lesson"]]
    record = opening.blank(act, enrolment, lesson, record_id)
    record.version, record.card = draft["version"] + 1, kept["card"]
    record.revision_id, record.instructor_id = draft["revision"], draft["instructor"]
    record.supersedes_id, record.reason = draft["supersedes"], draft["reason"]
    if record.supersedes_id is not None:
        record.attempt = draft["attempt"]
    act.session.add(record)
    act.session.flush()
    return record
