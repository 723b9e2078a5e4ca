"""Importing lessons and grades: planned against the school as it is, written whole or not."""

from collections.abc import Sequence
from dataclasses import replace

from gradebook.exchange.lines import RowFault
from gradebook.exchange.table import TableRow
from gradebook.records import importing, independence
from gradebook.records.act import Act
from gradebook.records.commands import needling, signing
from gradebook.records.commands.importing import Plan, PlannedLesson, refuse_faulty, teacher_of
from gradebook.records.faults import overlong
from gradebook.records.importing import LessonKey
from gradebook.records.jobs import Tell, silent
from gradebook.records.permissions import Action
from gradebook.records.store import checking, courses, enrolments, gate, lessons
from gradebook.records.tables.columns import new_id
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.people import Person
from gradebook.records.tables.training import Enrolment
from gradebook.records.values import State
from syllabus.course import Course, LessonKind
from syllabus.saying import say


def plan_lessons(
    act: Act, rows: Sequence[TableRow], reason: str = "", tell: Tell = silent
) -> Plan:
    """Check every lesson of a grades file against the school as it is.

    `reason` is why a chief instructor's stage checks may stand although not independent.
    """
    gate.demand(act.actor, Action.IMPORT)
    if problems := overlong(reason := reason.strip()):
        return Plan(faults=tuple(RowFault(0, one.field, one.words) for one in problems))
    found: list[PlannedLesson] = []
    faults: list[RowFault] = []
    owners = _Owners(act)
    keys = importing.by_lesson(rows)
    for number, (key, own_rows) in enumerate(keys.items()):
        tell("check", number, len(keys))
        planned, wrong = _lesson(act, owners, key, own_rows)
        if planned is not None:
            planned, tied = _independent(act, planned, reason)
            wrong += tied
        faults += wrong
        if planned is not None:
            found.append(planned)
    found.sort(key=lambda one: (one.lesson.card.flown_on, one.lesson.line))
    return Plan(lessons=tuple(found), faults=tuple(sorted(faults, key=lambda one: one.line)))


class _Owners:
    """Whose lesson a key is: enrolments, courses, instructors, what is on file."""

    def __init__(self, act: Act) -> None:
        self._act = act
        rows = enrolments.enrolments(act.session, act.actor)
        self.enrolments = {(row.student.email, row.course): row for row in rows}
        words = say("This lesson of that day is already on file.")
        self.taken = dict.fromkeys(lessons.lesson_days(act.session), words)
        self._teachers: dict[str, Person | None] = {}

    def teacher(self, email: str) -> Person | None:
        """The instructor with this address."""
        if email not in self._teachers:
            self._teachers[email] = teacher_of(self._act, email)
        return self._teachers[email]

    def course(self, enrolment: Enrolment) -> Course:
        """The course of an enrolment at its revision."""
        return courses.course_of(self._act.session, enrolment.revision_id)


def _lesson(
    act: Act, owners: _Owners, key: LessonKey, rows: Sequence[TableRow]
) -> tuple[PlannedLesson | None, list[RowFault]]:
    line, faults = rows[0].line, []
    enrolment = owners.enrolments.get((key.student, key.course))
    teacher = owners.teacher(key.instructor)
    if enrolment is None:
        words = f"{key.student!r} is not enrolled in {key.course!r}; import the students first."
        faults.append(RowFault(line, "student_email", words))
    if teacher is None:
        words = f"Nobody with the address {key.instructor!r} is an instructor here."
        faults.append(RowFault(line, "instructor_email", words))
    if enrolment is None or teacher is None:
        return None, faults
    days = (enrolment.enrolled_on, act.today)
    lesson, wrong = importing.read_lesson(key, rows, owners.course(enrolment), days)
    day = (enrolment.id, key.lesson, key.flown_on)
    if day in owners.taken:
        wrong.append(RowFault(line, "lesson", owners.taken[day]))
    owners.taken.setdefault(
        day, say("Line {line} already has this lesson of that day.", line=line)
    )
    if lesson is None or wrong:
        return None, wrong
    return PlannedLesson(lesson, enrolment, teacher), wrong


def _independent(
    act: Act, one: PlannedLesson, reason: str
) -> tuple[PlannedLesson | None, list[RowFault]]:
    """A stage check is held against the rule of independence as one flown here would be."""
    setting = one.lesson.setting
    if setting.lesson.kind is not LessonKind.STAGE_CHECK:
        return one, []
    stage = setting.course.stage_of[setting.lesson.code].code
    facts = checking.facts_of(one.enrolment, stage, one.instructor, act.zone)
    verdict = independence.judge(replace(facts, reason=reason))
    if not verdict.allowed:
        return None, [RowFault(one.lesson.line, "instructor_email", verdict.words)]
    return replace(one, reason="" if verdict.independent else reason), []


def import_lessons(act: Act, plan: Plan, tell: Tell = silent) -> int:
    """Write every lesson of the plan as a record entered from earlier ones, in date order."""
    refuse_faulty(plan)
    attempts = lessons.attempts(act.session)
    school = act.as_school()
    for number, one in enumerate(plan.lessons):
        tell("write", number, len(plan.lessons))
        pair = (one.enrolment.id, one.lesson.key.lesson)
        attempts[pair] = attempts.get(pair, 0) + 1
        record = _record(act, one, attempts[pair])
        act.session.add(record)
        signing.seal(school, record, one.lesson.card, one.lesson.setting)
    needling.rebuild(act.session, _enrolments(plan), tell)
    act.note(Action.IMPORT, None, None, **_noted(plan))
    return len(plan.lessons)


def _noted(plan: Plan) -> dict[str, int | str]:
    """What the trail says of an import, exceptions with their reason."""
    facts: dict[str, int | str] = {"lessons": len(plan.lessons), "grades": plan.n_grades}
    excepted = plan.excepted
    if not excepted:
        return facts
    return {**facts, "not_independent": len(excepted), "reason": excepted[0].reason}


def _enrolments(plan: Plan) -> list[Enrolment]:
    """The enrolments that get lessons, each once."""
    return list({one.enrolment.id: one.enrolment for one in plan.lessons}.values())


def _record(act: Act, one: PlannedLesson, attempt: int) -> LessonRecord:
    kind = one.lesson.setting.lesson.kind
    return LessonRecord(
        id=new_id(),
        enrolment_id=one.enrolment.id,
        enrolment=one.enrolment,
        revision_id=one.enrolment.revision_id,
        lesson=one.lesson.key.lesson,
        kind=kind.value,
        attempt=attempt,
        instructor_id=one.instructor.id,
        instructor=one.instructor,
        state=State.DRAFT.value,
        origin="imported",
        card=one.lesson.card.as_json(),
        created_at=act.at,
        saved_at=act.at,
        remarks="",
        comment="",
        reason=one.reason,
        supersedes_id=None,
    )
