"""Opening a lesson's card, saving it, throwing it away."""

from dataclasses import dataclass, replace

from sqlalchemy import update
from sqlalchemy.orm import Session
from sqlalchemy.orm.attributes import set_committed_value

from gradebook.records import carryover, rules
from gradebook.records.act import Act
from gradebook.records.card import Card, card_from_json
from gradebook.records.faults import (
    ConflictError,
    ForbiddenError,
    InvalidError,
    Problem,
    StaleError,
)
from gradebook.records.permissions import Action, Relation
from gradebook.records.store import courses, enrolments, facts, gate, lessons
from gradebook.records.tables.columns import new_id
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.training import Enrolment, StageApproval
from gradebook.records.values import History, State
from syllabus.course import Lesson, LessonKind
from syllabus.saying import say


@dataclass(frozen=True, slots=True)
class OpenRecord:
    """Open the card of one lesson for one enrolment.

    `record_id` is the id that a phone gave the record; the record is then always a new one.
    """

    enrolment_id: str
    lesson: str
    record_id: str = ""


@dataclass(frozen=True, slots=True)
class SaveCard:
    """Replace a draft's card, if nobody saved since `version`."""

    record_id: str
    version: int
    card: Card


def setting_of(
    session: Session, record: LessonRecord, act: Act, history: History | None = None
) -> rules.Setting:
    """What this record's card is judged against, from history as it stands.

    `history` is that of the enrolment, where it has been read already.
    """
    if history is None:
        history = facts.history(session, record.enrolment_id)
    course = courses.course_of(session, record.revision_id)
    lesson = course.lesson_by_code[record.lesson]
    past = tuple(fact for fact in history if fact.record_id != record.supersedes_id)
    return rules.Setting(
        course=course,
        lesson=lesson,
        tasks=carryover.card_tasks(course, lesson, past),
        enrolled_on=record.enrolment.enrolled_on,
        today=act.today,
    )


def open_record(act: Act, command: OpenRecord) -> LessonRecord:
    """A draft for the lesson; the one already open when this instructor has one.

    A phone that names its record gets that one, beside any other.
    """
    enrolment = enrolments.enrolment(
        act.session, act.actor, Action.RECORD_OPEN, command.enrolment_id
    )
    open_already = lessons.draft_of(
        act.session, enrolment.id, command.lesson, act.actor.person_id
    )
    if open_already is not None and not command.record_id:
        return open_already
    if enrolment.ended_on is not None:
        raise ConflictError(say("This enrolment has ended; no lesson can be added to it."))
    course = courses.course_of(act.session, enrolment.revision_id)
    lesson = course.lesson_by_code.get(command.lesson)
    if lesson is None:
        raise InvalidError(Problem("lesson", say("Choose a lesson of this course.")))
    _check_grader(act, enrolment, lesson)
    record = blank(act, enrolment, lesson, command.record_id or new_id())
    act.session.add(record)
    act.session.flush()
    act.note(Action.RECORD_OPEN, record.id, enrolment.id, lesson=lesson.code)
    return record


def _check_grader(act: Act, enrolment: Enrolment, lesson: Lesson) -> None:
    """A stage check is opened by whom the chief assigned; other lessons by who teaches."""
    relations = gate.relations_to(act.actor, enrolment)
    stage_check = lesson.kind is LessonKind.STAGE_CHECK
    if stage_check and approval_for(act, enrolment, lesson) is None:
        raise ForbiddenError(
            say(
                "A stage check is opened by the check instructor the chief instructor assigned."
            )
        )
    if not stage_check and relations == {Relation.CHECKS}:
        raise ForbiddenError(say("You are assigned to the stage check only."))


def approval_for(act: Act, enrolment: Enrolment, lesson: Lesson) -> StageApproval | None:
    """The approval, not yet used, that assigns this stage check to the actor."""
    course = courses.course_of(act.session, enrolment.revision_id)
    stage = course.stage_of[lesson.code].code
    return next(
        (
            row
            for row in enrolment.approvals
            if row.stage == stage
            and row.checker_id == act.actor.person_id
            and row.record_id is None
        ),
        None,
    )


def blank(act: Act, enrolment: Enrolment, lesson: Lesson, record_id: str) -> LessonRecord:
    """A draft of this lesson by the actor as it would be opened now; it is not kept."""
    course = courses.course_of(act.session, enrolment.revision_id)
    past = facts.history(act.session, enrolment.id)
    aircraft = course.aircraft[0].code if lesson.flight_minutes and course.aircraft else ""
    card = Card(flown_on=act.today.isoformat(), aircraft=aircraft)
    return LessonRecord(
        id=record_id,
        enrolment_id=enrolment.id,
        enrolment=enrolment,
        revision_id=enrolment.revision_id,
        lesson=lesson.code,
        kind=lesson.kind.value,
        attempt=carryover.attempt_number(lesson, past),
        instructor_id=act.actor.person_id,
        state=State.DRAFT.value,
        origin="flown",
        card=card.as_json(),
        created_at=act.at,
        saved_at=act.at,
        remarks="",
        comment="",
        reason="",
    )


def save_card(act: Act, command: SaveCard) -> LessonRecord:
    """Keep the card as typed; StaleError when a later version was saved meanwhile."""
    record = lessons.lesson_record(
        act.session, act.actor, Action.RECORD_GRADE, command.record_id
    )
    _put(act, record, command.version, command.card)
    return record


def _put(act: Act, record: LessonRecord, version: int, card: Card) -> None:
    """Write the card under a version check that holds on every database."""
    written = {"card": card.as_json(), "version": version + 1, "saved_at": act.at}
    changed = act.session.scalars(
        update(LessonRecord)
        .where(LessonRecord.id == record.id, LessonRecord.version == version)
        .values(written)
        .returning(LessonRecord.id)
        .execution_options(synchronize_session=False)
    ).all()
    if len(changed) != 1:
        raise StaleError(
            say("This card was saved in another tab or on another device meanwhile.")
        )
    for name, value in written.items():
        set_committed_value(record, name, value)


def discard_record(act: Act, record_id: str) -> str:
    """Throw a draft away; the audit event keeps all it held. Gives the enrolment.

    `restoring` can bring it back for an hour.
    """
    record = lessons.lesson_record(act.session, act.actor, Action.RECORD_DISCARD, record_id)
    act.note(
        Action.RECORD_DISCARD,
        record.id,
        record.enrolment_id,
        lesson=record.lesson,
        card=record.card,
        draft={
            "instructor": record.instructor_id,
            "kind": record.kind,
            "attempt": record.attempt,
            "revision": record.revision_id,
            "version": record.version,
            "supersedes": record.supersedes_id,
            "reason": record.reason,
        },
    )
    enrolment_id = record.enrolment_id
    act.session.delete(record)
    return enrolment_id


def card_of(record: LessonRecord) -> Card:
    """The record's card."""
    return card_from_json(record.card)


def ungrade_rest(card: Card) -> Card:
    """The card without the grades that were set together; what was chosen by hand stays."""
    entries = (
        replace(entry, level="", together=False) if entry.together else entry
        for entry in card.entries
    )
    return replace(card, entries=tuple(entries))


def grade_rest(card: Card, setting: rules.Setting) -> Card:
    """The card with every untouched task at its target, marked as graded together."""
    entries = []
    for asked in setting.tasks:
        entry = card.entry(asked.task)
        if not entry.level:
            entry = replace(entry, level=asked.target, together=True)
        entries.append(entry)
    return replace(card, entries=tuple(entries))
