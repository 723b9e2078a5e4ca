"""Importing: a plan made of a file's rows, and the plan carried out, all or nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from gradebook.exchange.lines import RowFault
from gradebook.exchange.table import TableRow
from gradebook.records import importing
from gradebook.records.act import Act
from gradebook.records.commands import needling, roles, signing
from gradebook.records.commands import people as accounts
from gradebook.records.commands.enrolling import Enrol, enrol
from gradebook.records.faults import InvalidError, Problem
from gradebook.records.importing import ImportedLesson, LessonKey
from gradebook.records.permissions import Action, Role
from gradebook.records.rules import read_day
from gradebook.records.store import courses, enrolments, gate, lessons, people
from gradebook.records.tables.columns import new_id
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.people import Person
from gradebook.records.tables.training import Enrolment
from gradebook.records.values import State
from syllabus.course import Course


@dataclass(frozen=True, slots=True)
class NewStudent:
    """One student of the file, ready to be enrolled. `person` is set when already known."""

    line: int
    name: str
    email: str
    certificate: str
    course: str
    enrolled_on: date
    instructor_id: str
    person: Person | None


@dataclass(frozen=True, slots=True)
class PlannedLesson:
    """One lesson of the file with the enrolment it goes to and who gave it."""

    lesson: ImportedLesson
    enrolment: Enrolment
    instructor: Person


@dataclass(frozen=True, slots=True)
class Plan:
    """What a file would write, and every fault that forbids it."""

    students: tuple[NewStudent, ...] = ()
    lessons: tuple[PlannedLesson, ...] = ()
    faults: tuple[RowFault, ...] = ()

    @property
    def n_grades(self) -> int:
        """Grades in all lessons of the plan."""
        return sum(len(one.lesson.card.entries) for one in self.lessons)


def plan_students(act: Act, rows: Sequence[TableRow]) -> Plan:
    """Check every row of a students file against the school as it is."""
    gate.demand(act.actor, Action.IMPORT)
    known = {row.course for row in courses.latest_revisions(act.session)}
    found: list[NewStudent] = []
    faults: list[RowFault] = []
    for row in rows:
        student, wrong = _student(act, row, known)
        if any(
            row["email"].lower() == one.email and row["course"] == one.course for one in found
        ):
            wrong.append(RowFault(row.line, "email", "This student stands in the file twice."))
        faults += wrong
        if student is not None:
            found.append(student)
    return Plan(students=tuple(found), faults=tuple(faults))


def _student(
    act: Act, row: TableRow, known: set[str]
) -> tuple[NewStudent | None, list[RowFault]]:
    faults = []
    if not row["name"] or len(row["name"]) > 120:
        faults.append(RowFault(row.line, "name", "A name of 1 to 120 characters is needed."))
    if not accounts.EMAIL.fullmatch(row["email"]):
        faults.append(
            RowFault(row.line, "email", f"{row['email']!r} is not an e-mail address.")
        )
    if row["course"] not in known:
        words = f"{row['course']!r} is not a published course ({', '.join(sorted(known))})."
        faults.append(RowFault(row.line, "course", words))
    day = read_day(row["enrolled_on"])
    if day is None or day > act.today:
        words = f"{row['enrolled_on']!r} is not a past date such as 2026-05-31."
        faults.append(RowFault(row.line, "enrolled_on", words))
    teacher = _teacher(act, row["instructor_email"])
    if teacher is None:
        words = f"Nobody with the address {row['instructor_email']!r} is an instructor here."
        faults.append(RowFault(row.line, "instructor_email", words))
    person = people.person_by_email(act.session, row["email"])
    if person and enrolments.current_enrolment(act.session, person.id, row["course"]):
        faults.append(RowFault(row.line, "email", f"{person.name} is already in this course."))
    if faults or day is None or teacher is None:
        return None, faults
    cells = (row["name"], row["email"].lower(), row["certificate"][:60], row["course"])
    return NewStudent(row.line, *cells, day, teacher.id, person), faults


def _teacher(act: Act, email: str) -> Person | None:
    person = people.person_by_email(act.session, email)
    posts = {Role.INSTRUCTOR, Role.CHECK_INSTRUCTOR, Role.CHIEF}
    return person if person is not None and people.roles_of(person) & posts else None


def import_students(act: Act, plan: Plan) -> int:
    """Make the accounts, without a secret until an administrator invites each; enrol."""
    _refuse_faulty(plan)
    for one in plan.students:
        wanted = accounts.AddPerson(one.name, one.email, one.certificate, ())
        person = one.person or accounts.new_person(act, wanted)
        person.certificate = person.certificate or one.certificate
        roles.grant(act, person, Role.STUDENT)
        enrol(act, Enrol(person.id, one.course, one.enrolled_on, one.instructor_id))
    act.note(Action.IMPORT, None, None, students=len(plan.students))
    return len(plan.students)


def plan_lessons(act: Act, rows: Sequence[TableRow]) -> Plan:
    """Check every lesson of a grades file against the school as it is."""
    gate.demand(act.actor, Action.IMPORT)
    found: list[PlannedLesson] = []
    faults: list[RowFault] = []
    owners = _Owners(act)
    for key, own_rows in importing.by_lesson(rows).items():
        planned, wrong = _lesson(act, owners, key, own_rows)
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
        words = "This lesson of that day is already on file."
        self.taken = dict.fromkeys(lessons.lesson_days(act.session), words)
        self._teachers: dict[str, Person | None] = {}

    def teacher(self, email: str) -> Person | None:
        """The instructor with this address."""
        if email not in self._teachers:
            self._teachers[email] = _teacher(self._act, email)
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
    owners.taken.setdefault(day, f"Line {line} already has this lesson of that day.")
    if lesson is None or wrong:
        return None, wrong
    return PlannedLesson(lesson, enrolment, teacher), wrong


def import_lessons(act: Act, plan: Plan) -> int:
    """Write every lesson of the plan as a record entered from earlier ones, in date order."""
    _refuse_faulty(plan)
    attempts = lessons.attempts(act.session)
    school = act.as_school()
    for one in plan.lessons:
        pair = (one.enrolment.id, one.lesson.key.lesson)
        attempts[pair] = attempts.get(pair, 0) + 1
        record = _record(act, one, attempts[pair])
        act.session.add(record)
        signing.seal(school, record, one.lesson.card, one.lesson.setting)
    needling.rebuild(act.session, _enrolments(plan))
    act.note(Action.IMPORT, None, None, lessons=len(plan.lessons), grades=plan.n_grades)
    return len(plan.lessons)


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
        reason="",
        supersedes_id=None,
    )


def _refuse_faulty(plan: Plan) -> None:
    if plan.faults:
        words = f"Faults in the file: {len(plan.faults)}; nothing was written."
        raise InvalidError(Problem("file", words))
