"""Stage checks: what independence depends on, and those that were not independent."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook import clock
from gradebook.records.independence import Facts, Tenure
from gradebook.records.store import people
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
    wanted = StageApproval.not_independent & StageApproval.enrolment_id.in_(enrolment_ids)
    approved = session.execute(
        select(StageApproval, LessonRecord.flown_on)
        .outerjoin(LessonRecord, LessonRecord.id == StageApproval.record_id)
        .where(wanted)
    )
    found = [_approved(row[0], row[1]) for row in approved]
    query = select(LessonRecord).where(
        LessonRecord.enrolment_id.in_(enrolment_ids),
        LessonRecord.kind == LessonKind.STAGE_CHECK,
    )
    entered = session.scalars(query.where(LessonRecord.origin == "imported")).unique()
    found += [_entered(row) for row in entered if row.reason]
    return sorted(found, key=lambda one: one.flown_on or date.max, reverse=True)


def _approved(row: StageApproval, flown_on: date | None) -> NotIndependent:
    return NotIndependent(
        row.enrolment_id,
        row.checker_id or "",
        row.approved_by or "",
        row.reason,
        row.record_id or "",
        flown_on,
    )


def _entered(row: LessonRecord) -> NotIndependent:
    return NotIndependent(
        row.enrolment_id, row.instructor_id, "", row.reason, row.id, row.flown_on
    )


def exception_of(session: Session, record: LessonRecord) -> NotIndependent | None:
    """The exception under which a stage check was made, amended since or not; None mostly."""
    if record.kind != LessonKind.STAGE_CHECK:
        return None
    first = record
    while first.supersedes_id is not None:
        first = session.get_one(LessonRecord, first.supersedes_id)
    known = not_independent(session, [record.enrolment_id])
    return next((one for one in known if one.record_id == first.id), None)
