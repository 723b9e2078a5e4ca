"""Stage checks: what independence depends on, and those that were not independent."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from itertools import chain
from typing import Any

from sqlalchemy import BindParameter, bindparam, literal, select
from sqlalchemy.orm import Session

from gradebook import clock
from gradebook.records.independence import Facts, Tenure
from gradebook.records.store import people
from gradebook.records.store.together import Asked, together
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.people import Person
from gradebook.records.tables.training import Enrolment, StageApproval
from syllabus.course import LessonKind


@dataclass(frozen=True, slots=True)
class NotIndependent:
    """A stage check by somebody whom the rule excludes, and the reason typed for it.

    `record_id` and `flown_on` are empty as long as it is only approved; `approved_by` is empty
    where it was entered from earlier records (the audit trail says by whom).
    """

    enrolment_id: str
    checker_id: str
    approved_by: str
    reason: str
    record_id: str = ""
    flown_on: date | None = None


def facts_of(enrolment: Enrolment, stage: str, checker: Person, zone: str) -> Facts:
    """What is on file about a checker's independence in a stage of this enrolment."""
    return Facts(
        principals=tuple(
            Tenure(
                held.person_id,
                clock.school_day(held.since, zone),
                clock.school_day(held.until, zone) if held.until else None,
            )
            for held in enrolment.teaching
            if held.principal
        ),
        recommended_by=frozenset(
            row.recommended_by for row in enrolment.approvals if row.stage == stage
        ),
        checker=checker.id,
        name=checker.name,
        posts=people.roles_of(checker),
    )


def not_independent(session: Session, enrolment_ids: Collection[str]) -> list[NotIndependent]:
    """Every check of these enrolments that was excepted, newest first, those to come before."""
    return exceptions(*together(session, *excepted(enrolment_ids)))


IDS: BindParameter[Any] = bindparam("excepted_ids", expanding=True)
APPROVED = Asked(
    select(
        StageApproval.enrolment_id,
        StageApproval.checker_id,
        StageApproval.approved_by,
        StageApproval.reason,
        StageApproval.record_id,
        LessonRecord.flown_on,
    )
    .outerjoin(LessonRecord, LessonRecord.id == StageApproval.record_id)
    .where(StageApproval.not_independent, StageApproval.enrolment_id.in_(IDS))
)
ENTERED = Asked(
    select(
        LessonRecord.enrolment_id,
        LessonRecord.instructor_id.label("checker_id"),
        literal("").label("approved_by"),
        LessonRecord.reason,
        LessonRecord.id.label("record_id"),
        LessonRecord.flown_on,
    ).where(
        LessonRecord.enrolment_id.in_(IDS),
        LessonRecord.kind == LessonKind.STAGE_CHECK,
        LessonRecord.origin == "imported",
        LessonRecord.reason != "",
    )
)


def excepted(enrolment_ids: Collection[str]) -> tuple[Asked, Asked]:
    """Asks for checks approved, and checks entered, that were not independent."""
    ids = list(enrolment_ids)
    return APPROVED.of(excepted_ids=ids), ENTERED.of(excepted_ids=ids)


def exceptions(*rows: Iterable[Any]) -> list[NotIndependent]:
    """The rows of what is `excepted`, newest first, checks to come before."""
    found = [
        NotIndependent(
            row.enrolment_id,
            row.checker_id or "",
            row.approved_by or "",
            row.reason,
            row.record_id or "",
            row.flown_on,
        )
        for row in chain(*rows)
    ]
    return sorted(found, key=lambda one: one.flown_on or date.max, reverse=True)


def exception_of(session: Session, record: LessonRecord) -> NotIndependent | None:
    """The exception under which a stage check was made, amended since or not; None mostly."""
    if record.kind != LessonKind.STAGE_CHECK:
        return None
    first = record
    while first.supersedes_id is not None:
        first = session.get_one(LessonRecord, first.supersedes_id)
    known = not_independent(session, [record.enrolment_id])
    return next((one for one in known if one.record_id == first.id), None)
