"""What follows a signature: acknowledgment, amendment, the student's own grades."""

from collections.abc import Mapping
from dataclasses import dataclass

from gradebook.records import carryover
from gradebook.records.act import Act
from gradebook.records.commands import needling
from gradebook.records.faults import ConflictError, InvalidError, Problem
from gradebook.records.permissions import Action
from gradebook.records.statement import answer_of, void_of
from gradebook.records.store import courses, enrolments, facts, lessons
from gradebook.records.store.circumstances import signed_in
from gradebook.records.tables.lessons import LessonRecord, SelfGrade
from gradebook.records.values import State
from syllabus.saying import say

LONGEST_COMMENT = 2000


@dataclass(frozen=True, slots=True)
class Acknowledge:
    """The student has seen the record and agrees, or disagrees and says why."""

    record_id: str
    agrees: bool
    comment: str


@dataclass(frozen=True, slots=True)
class Amend:
    """Open a new record that will supersede a signed one, and say why."""

    record_id: str
    reason: str


@dataclass(frozen=True, slots=True)
class JudgeSelf:
    """The student's own grades for a lesson: task code to level code."""

    enrolment_id: str
    lesson: str
    levels: Mapping[str, str]


def acknowledge(act: Act, command: Acknowledge) -> LessonRecord:
    """Mark the record acknowledged; a disagreement needs its words.

    An answer from the browser that signed is taken, and flagged.
    """
    comment = command.comment.strip()
    if not command.agrees and not comment:
        raise InvalidError(Problem("comment", say("Say what you disagree with.")))
    if len(comment) > LONGEST_COMMENT:
        raise InvalidError(
            Problem(
                "comment",
                say(
                    "Keep the comment under {longest_comment} characters.",
                    longest_comment=LONGEST_COMMENT,
                ),
            )
        )
    record = lessons.lesson_record(
        act.session, act.actor, Action.RECORD_ACKNOWLEDGE, command.record_id
    )
    record.state = State.ACKNOWLEDGED.value
    record.acknowledged_at = act.at
    record.agrees = command.agrees
    record.comment = comment
    kind = "record.acknowledge" if command.agrees else "record.disagree"
    act.state(kind, record.enrolment_id, answer_of(record))
    mark = act.mark(record.id)
    same = bool(mark) and mark == signed_in(act.session, record)
    told = {"agrees": command.agrees, "same_device": same}
    act.note(Action.RECORD_ACKNOWLEDGE, record.id, record.enrolment_id, **told)
    return record


def amend_record(act: Act, command: Amend) -> LessonRecord:
    """A draft that starts as a copy of the signed record; the one already open if there is."""
    reason = _reason(command.reason, say("Say why the record is amended."))
    original = lessons.lesson_record(
        act.session, act.actor, Action.RECORD_AMEND, command.record_id
    )
    if any(row.state == State.DRAFT for row in lessons.amendments_of(act.session, original.id)):
        raise ConflictError(say("An amendment of this record is already open as a draft."))
    copied = ("enrolment_id", "revision_id", "lesson", "kind", "attempt", "card")
    draft = LessonRecord(
        **{name: getattr(original, name) for name in copied},
        instructor_id=act.actor.person_id,
        state=State.DRAFT.value,
        created_at=act.at,
        saved_at=act.at,
        supersedes_id=original.id,
        reason=reason,
        remarks="",
        comment="",
    )
    act.session.add(draft)
    act.session.flush()
    act.note(
        Action.RECORD_AMEND, draft.id, draft.enrolment_id, amends=original.id, reason=reason
    )
    return draft


@dataclass(frozen=True, slots=True)
class Void:
    """Declare that a signed record does not count, and why."""

    record_id: str
    reason: str


def void_record(act: Act, command: Void) -> LessonRecord:
    """Take a record out of what counts; it stays readable, with the reason beside it."""
    reason = _reason(command.reason, say("Say why the record is void."))
    record = lessons.lesson_record(
        act.session, act.actor, Action.RECORD_VOID, command.record_id
    )
    record.state, record.voided_at = State.VOID.value, act.at
    record.void_reason = reason
    act.state("record.void", record.enrolment_id, void_of(record))
    needling.rebuild(act.session, [record.enrolment])
    act.note(Action.RECORD_VOID, record.id, record.enrolment_id, reason=reason)
    return record


def _reason(typed: str, words: str) -> str:
    reason = typed.strip()
    if not reason:
        raise InvalidError(Problem("reason", words))
    if len(reason) > LONGEST_COMMENT:
        raise InvalidError(
            Problem(
                "reason",
                say(
                    "Keep it under {longest_comment} characters.",
                    longest_comment=LONGEST_COMMENT,
                ),
            )
        )
    return reason


def judge_self(act: Act, command: JudgeSelf) -> None:
    """Record the student's own grades for the coming attempt."""
    enrolment = enrolments.enrolment(
        act.session, act.actor, Action.SELF_GRADE, command.enrolment_id
    )
    course = courses.course_of(act.session, enrolment.revision_id)
    lesson = course.lesson_by_code.get(command.lesson)
    if lesson is None:
        raise InvalidError(Problem("lesson", say("Choose a lesson of this course.")))
    past = facts.history(act.session, enrolment.id)
    attempt = carryover.attempt_number(lesson, past)
    asked = {item.task for item in carryover.card_tasks(course, lesson, past)}
    earlier = {
        row.task: row
        for row in lessons.self_grades(act.session, enrolment.id)
        if (row.lesson, row.attempt) == (lesson.code, attempt)
    }
    for task, level in command.levels.items():
        if task not in asked or course.task_by_code[task].scale.rank(level) is None:
            raise InvalidError(Problem(f"level-{task}", say("Choose one of the levels shown.")))
        if task in earlier:
            earlier[task].level, earlier[task].made_at = level, act.at
            continue
        act.session.add(
            SelfGrade(
                enrolment_id=enrolment.id,
                lesson=lesson.code,
                attempt=attempt,
                task=task,
                level=level,
                made_at=act.at,
            )
        )
    act.note(Action.SELF_GRADE, None, enrolment.id, lesson=lesson.code, n=len(command.levels))
