"""Importing: a plan made of a file's rows, and the plan of students carried out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from gradebook.exchange.lines import RowFault
from gradebook.exchange.table import TableRow
from gradebook.records.act import Act
from gradebook.records.commands import people as accounts
from gradebook.records.commands import roles
from gradebook.records.commands.enrolling import Enrol, enrol
from gradebook.records.faults import InvalidError, Problem
from gradebook.records.importing import ImportedLesson
from gradebook.records.jobs import Tell, silent
from gradebook.records.permissions import Action, Role
from gradebook.records.rules import read_day
from gradebook.records.store import courses, enrolments, gate, people
from gradebook.records.tables.people import Person
from gradebook.records.tables.training import Enrolment
from syllabus.saying import say


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
    """One lesson of the file with the enrolment it goes to and who gave it.

    `reason` excepts a stage check whose instructor is not independent; empty for all others.
    """

    lesson: ImportedLesson
    enrolment: Enrolment
    instructor: Person
    reason: str = ""


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

    @property
    def excepted(self) -> tuple[PlannedLesson, ...]:
        """Stage checks that were not independent, let in for the reason given."""
        return tuple(one for one in self.lessons if one.reason)


def plan_students(act: Act, rows: Sequence[TableRow], tell: Tell = silent) -> Plan:
    """Check every row of a students file against the school as it is."""
    gate.demand(act.actor, Action.IMPORT)
    known = {row.course for row in courses.latest_revisions(act.session)}
    found: list[NewStudent] = []
    faults: list[RowFault] = []
    for number, row in enumerate(rows):
        tell("check students", number, len(rows))
        student, wrong = _student(act, row, known)
        if any(
            row["email"].lower() == one.email and row["course"] == one.course for one in found
        ):
            wrong.append(
                RowFault(row.line, "email", say("This student stands in the file twice."))
            )
        faults += wrong
        if student is not None:
            found.append(student)
    return Plan(students=tuple(found), faults=tuple(faults))


def _student(
    act: Act, row: TableRow, known: set[str]
) -> tuple[NewStudent | None, list[RowFault]]:
    faults = []
    if not row["name"] or len(row["name"]) > 120:
        faults.append(
            RowFault(row.line, "name", say("A name of 1 to 120 characters is needed."))
        )
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
    teacher = teacher_of(act, row["instructor_email"])
    if teacher is None:
        words = f"Nobody with the address {row['instructor_email']!r} is an instructor here."
        faults.append(RowFault(row.line, "instructor_email", words))
    person = people.person_by_email(act.session, row["email"])
    if person and enrolments.current_enrolment(act.session, person.id, row["course"]):
        faults.append(
            RowFault(
                row.line,
                "email",
                say("{person} is already in this course.", person=person.name),
            )
        )
    if faults or day is None or teacher is None:
        return None, faults
    cells = (row["name"], row["email"].lower(), row["certificate"][:60], row["course"])
    return NewStudent(row.line, *cells, day, teacher.id, person), faults


def teacher_of(act: Act, email: str) -> Person | None:
    """Whoever has this address and may have given a lesson."""
    person = people.person_by_email(act.session, email)
    posts = {Role.INSTRUCTOR, Role.CHECK_INSTRUCTOR, Role.CHIEF}
    return person if person is not None and people.roles_of(person) & posts else None


def import_students(act: Act, plan: Plan, tell: Tell = silent) -> int:
    """Make the accounts, without a secret until an administrator invites each; enrol."""
    refuse_faulty(plan)
    for number, one in enumerate(plan.students):
        tell("write students", number, len(plan.students))
        wanted = accounts.AddPerson(one.name, one.email, one.certificate, ())
        person = one.person or accounts.new_person(act, wanted)
        person.certificate = person.certificate or one.certificate
        roles.grant(act, person, Role.STUDENT)
        enrol(act, Enrol(person.id, one.course, one.enrolled_on, one.instructor_id))
    act.note(Action.IMPORT, None, None, students=len(plan.students))
    return len(plan.students)


def refuse_faulty(plan: Plan) -> None:
    """InvalidError for a plan with faults."""
    if plan.faults:
        words = say("Faults in the file: {n}; nothing was written.", n=len(plan.faults))
        raise InvalidError(Problem("file", words))
