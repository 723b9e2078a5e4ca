"""Which cards an instructor takes along: those open, and the next one of every student."""

from collections.abc import Iterator
from dataclasses import dataclass

from gradebook.records import carryover
from gradebook.records.act import Act
from gradebook.records.commands.opening import approval_for, blank
from gradebook.records.permissions import Relation
from gradebook.records.store import courses, enrolments, facts, gate, lessons
from gradebook.records.store.enrolments import Enrolment
from gradebook.records.tables.columns import new_id
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.values import History
from syllabus.course import Lesson, LessonKind


@dataclass(frozen=True, slots=True)
class Packed:
    """A draft to take along; of version 0 when it is a blank card that is not kept here.

    `supersedes` is the digest of the record it amends, `check` the id of the approval that it
    would use up.
    """

    record: LessonRecord
    version: int
    supersedes: str | None = None
    check: str | None = None


def pack(act: Act) -> list[Packed]:
    """The actor's drafts, the oldest first, then blank cards by student."""
    drafts = lessons.drafts_by(act.session, act.actor.person_id)
    taken = {(one.enrolment_id, one.lesson) for one in drafts if one.supersedes_id is None}
    rows = enrolments.enrolments(act.session, act.actor, whole=True)
    past = facts.histories(act.session, [row.id for row in rows])
    blanks = [
        blank(act, row, lesson, new_id())
        for row in rows
        for lesson in _coming(act, row, past[row.id])
        if (row.id, lesson.code) not in taken
    ]
    return [
        *(_packed(act, one, one.version) for one in drafts),
        *(_packed(act, one, 0) for one in blanks),
    ]


def _coming(act: Act, row: Enrolment, past: History) -> Iterator[Lesson]:
    """What the actor would open next for this student: the lesson, or the check assigned."""
    course = courses.course_of(act.session, row.revision_id)
    if Relation.TEACHES in gate.relations_to(act.actor, row):
        lesson = carryover.next_lesson(course, past)
        if lesson is not None and lesson.kind is not LessonKind.STAGE_CHECK:
            yield lesson
    for stage in course.stages:
        if approval_for(act, row, stage.check) is not None:
            yield stage.check


def _packed(act: Act, record: LessonRecord, version: int) -> Packed:
    course = courses.course_of(act.session, record.revision_id)
    amended = record.supersedes_id and act.session.get(LessonRecord, record.supersedes_id)
    lesson = course.lesson_by_code[record.lesson]
    approval = None
    if lesson.kind is LessonKind.STAGE_CHECK and not amended:
        approval = approval_for(act, record.enrolment, lesson)
    return Packed(
        record,
        version,
        amended.digest if amended else None,
        approval.id if approval else None,
    )
