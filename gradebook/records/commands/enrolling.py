"""Enrolling students, assigning who teaches them, publishing what is taught."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy.orm import Session

from gradebook.records.act import Act
from gradebook.records.faults import ConflictError, InvalidError, Problem, overlong
from gradebook.records.permissions import Action, Role
from gradebook.records.store import courses, enrolments, gate, people, standing
from gradebook.records.tables.training import Enrolment, Revision, Teaching
from syllabus.reading import load_course
from syllabus.revision import content_hash
from syllabus.saying import say

ENDINGS = ("graduated", "terminated", "transferred")


@dataclass(frozen=True, slots=True)
class Enrol:
    """Enrol a student in the newest revision of a course, with a principal instructor."""

    student_id: str
    course: str
    enrolled_on: date
    principal_id: str


@dataclass(frozen=True, slots=True)
class Assign:
    """Let an instructor teach a student, as principal or besides; or end it."""

    enrolment_id: str
    instructor_id: str
    principal: bool = False
    end: bool = False


@dataclass(frozen=True, slots=True)
class End:
    """End an enrolment: graduated, terminated or transferred; `reason` when not graduated."""

    enrolment_id: str
    how: str
    ended_on: date
    reason: str


def end_enrolment(act: Act, command: End) -> Enrolment:
    """No lesson can be added afterwards. Graduation is refused while a lesson is missing."""
    row = enrolments.enrolment(act.session, act.actor, Action.END, command.enrolment_id)
    reason = command.reason.strip()
    problems = overlong(reason)
    enrolments.check_current(row)
    if command.how not in ENDINGS:
        problems.append(Problem("how", say("Choose how the enrolment ends.")))
    if not row.enrolled_on <= command.ended_on <= act.today:
        problems.append(Problem("ended_on", say("Enter a day between enrolment and today.")))
    if command.how != "graduated" and not reason:
        problems.append(Problem("reason", say("Say why the training ends here.")))
    if command.how == "graduated":
        lacking = standing.standing(act.session, row, act.today).lacking
        problems += [
            Problem("how", say("Not finished yet: {words}", words=words))
            for words in lacking[:5]
        ]
    if problems:
        raise InvalidError(*problems)
    row.ended_on, row.ended_how = command.ended_on, command.how
    act.state_row("enrolment.end", row.id, row, reason=reason)
    act.note(Action.END, row.id, row.id, how=command.how, reason=reason)
    return row


def enrol(act: Act, command: Enrol) -> Enrolment:
    """A new enrolment; refused for somebody already in the course."""
    gate.demand(act.actor, Action.ENROL)
    student = people.person(act.session, command.student_id)
    latest = {row.course: row for row in courses.latest_revisions(act.session)}
    problems = []
    if Role.STUDENT not in people.roles_of(student):
        problems.append(
            Problem(
                "student",
                say("{student} does not hold the role student.", student=student.name),
            )
        )
    if command.course not in latest:
        problems.append(Problem("course", say("Choose a published course.")))
    if command.enrolled_on > act.today:
        problems.append(Problem("enrolled_on", say("This date is in the future.")))
    if enrolments.current_enrolment(act.session, student.id, command.course):
        problems.append(
            Problem(
                "student", say("{student} is already in this course.", student=student.name)
            )
        )
    problems.extend(_teacher_problems(act, command.principal_id))
    if problems:
        raise InvalidError(*problems)
    row = Enrolment(
        student_id=student.id,
        student=student,
        revision_id=latest[command.course].id,
        course=command.course,
        enrolled_on=command.enrolled_on,
        created_at=act.at,
    )
    act.session.add(row)
    act.session.flush()
    act.state_row("enrolment.enrol", row.id, row, name=student.name)
    _teach(act, row, command.principal_id, principal=True)
    act.note(Action.ENROL, row.id, row.id, course=row.course, student=student.id)
    return row


def _teacher_problems(act: Act, person_id: str) -> list[Problem]:
    teachers = people.people_with(act.session, Role.INSTRUCTOR, Role.CHIEF)
    if any(person.id == person_id for person in teachers):
        return []
    return [Problem("instructor", say("Choose an active instructor."))]


def _teach(act: Act, row: Enrolment, person_id: str, *, principal: bool) -> None:
    teacher = people.person(act.session, person_id)
    held = Teaching(enrolment_id=row.id, person=teacher, principal=principal, since=act.at)
    row.teaching.append(held)
    act.session.flush()
    act.state_row("enrolment.assign", row.id, held)


def assign(act: Act, command: Assign) -> Enrolment:
    """Change who teaches a student. The row that ends keeps its dates."""
    row = enrolments.enrolment(act.session, act.actor, Action.ASSIGN, command.enrolment_id)
    current = [held for held in row.teaching if held.until is None]
    mine = [held for held in current if held.person_id == command.instructor_id]
    if command.end and not mine:
        raise ConflictError(say("This instructor does not teach this student any more."))
    if not command.end and (problems := _teacher_problems(act, command.instructor_id)):
        raise InvalidError(*problems)
    if not command.end and mine and not command.principal:
        raise ConflictError(say("This instructor already teaches this student."))
    ending = mine + [held for held in current if command.principal and held.principal]
    for held in ending:
        held.until = act.at
        act.state_row("enrolment.unassign", row.id, held)
    if not command.end:
        _teach(act, row, command.instructor_id, principal=command.principal)
    act.note(
        Action.ASSIGN,
        row.id,
        row.id,
        instructor=command.instructor_id,
        principal=command.principal,
        ended=command.end,
    )
    return row


def publish(
    session: Session, files: Mapping[str, str], at: datetime, by: str | None = None
) -> Revision:
    """Publish a course as it stands in its files; the same content is the same revision.

    Raises `syllabus.reading.CourseError` when the files have faults.
    """
    revision = content_hash(files)
    known = session.get(Revision, revision)
    if known is not None:
        return known
    course = load_course(files)
    row = Revision(
        id=revision,
        course=course.code,
        title=course.title,
        files=json.dumps(dict(files), sort_keys=True),
        published_at=at,
        published_by=by,
    )
    session.add(row)
    session.flush()
    return row


def assignable(act: Act, enrolment_id: str) -> Enrolment:
    """The enrolment, for somebody who may change who teaches it."""
    return enrolments.enrolment(act.session, act.actor, Action.ASSIGN, enrolment_id)
