"""Driving one simulated student through the course with the school's own commands."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from gradebook.demo.flying import Pilot, fly
from gradebook.demo.scenario import Scenario, Staff, Student
from gradebook.records import carryover, rules
from gradebook.records.act import Act
from gradebook.records.card import Card
from gradebook.records.commands import (
    answering,
    certifying,
    checks,
    enrolling,
    opening,
    signing,
)
from gradebook.records.copying.papers import Purpose
from gradebook.records.gauges import read_gauges
from gradebook.records.pen import Pen
from gradebook.records.permissions import Role
from gradebook.records.store import facts, onfile, people, standing
from gradebook.records.store.courses import course_of
from gradebook.records.tables.people import Person
from gradebook.records.tables.training import Enrolment, StageApproval
from gradebook.records.values import ErrorFact, GradeFact, Outcome
from syllabus.course import Lesson, LessonKind, Stage

FLIGHT_CHECKER = "anselm@kelpmoor.example"
EARLY = "Ready in the aircraft; what is open is done before the check."
MORNING = time(9, 0)
VALID = {"endorsement": 90, "medical": 1800}
SUBSTITUTE_RATE = 0.12


@dataclass(frozen=True, slots=True)
class Cast:
    """What the simulation of one student works with."""

    session: Session
    scenario: Scenario
    accounts: dict[str, Person]
    pens: dict[str, Pen]
    random: Random
    now: datetime

    def act(self, email: str, at: datetime) -> Act:
        """An act of the person with this address."""
        actor = people.actor_of(self.accounts[email])
        moment, pen = min(at, self.now), self.pens[email]
        return Act(self.session, actor, moment, self.scenario.zone, pen)

    def staff(self, email: str) -> Staff:
        """The member of staff with this address."""
        return next(one for one in self.scenario.staff if one.email == email)

    @property
    def chief(self) -> str:
        """The chief instructor's address."""
        return self.holder(Role.CHIEF)

    def holder(self, role: Role) -> str:
        """The address of the first member of staff with this role."""
        return next(one.email for one in self.scenario.staff if role in one.roles)

    def morning(self, days: int, at: time = MORNING) -> datetime:
        """So many days ago at this hour of the school."""
        zone = ZoneInfo(self.scenario.zone)
        day = self.now.astimezone(zone).date() - timedelta(days=days)
        return datetime.combine(day, at, zone)


def career(cast: Cast, student: Student, start: datetime) -> Iterator[datetime]:
    """Enrol, then fly as many lessons as the scenario says.

    Gives the moment of the next thing before it is done, so that many careers can take turns.
    """
    yield start
    chief, person = cast.act(cast.chief, start), cast.accounts[student.email]
    principal = cast.accounts[student.instructor].id
    row = enrolling.enrol(
        chief, enrolling.Enrol(person.id, student.course, chief.today, principal)
    )
    course, enrolled = course_of(cast.session, row.revision_id), row.id
    pilot, at = Pilot(student, cast.random), start + timedelta(days=1)
    for number in range(student.lessons):
        yield at
        row = cast.session.get_one(Enrolment, enrolled)
        lesson = carryover.next_lesson(course, facts.history(cast.session, row.id))
        if lesson is None or at > cast.now:
            break
        if student.pause and number == student.lessons // 2:
            at += timedelta(days=student.pause)
            yield at
            row = cast.session.get_one(Enrolment, enrolled)
        if lesson.kind is LessonKind.STAGE_CHECK:
            _prepare_check(cast, student, row, course.stage_of[lesson.code], at)
        _one_lesson(cast, pilot, row, lesson, at)
        _close_what_is_clean(cast, student, row, at)
        at += timedelta(days=max(1, round(student.gap * cast.random.uniform(0.5, 1.6))))
    if student.graduated:
        ending = enrolling.End(row.id, "graduated", at.date(), "")
        enrolling.end_enrolment(cast.act(cast.chief, at), ending)
    if student.left:
        _leave(cast, row, at)


def _leave(cast: Cast, row: Enrolment, at: datetime) -> None:
    """End the training; the chief certifies the record for whoever wants to go on elsewhere."""
    act = cast.act(cast.chief, at)
    why = "Moved away and gave up flying."
    enrolling.end_enrolment(act, enrolling.End(row.id, "terminated", at.date(), why))
    wanted = certifying.Certify(row.id, Purpose.TERMINATION, confirmed=True)
    certifying.certify(act, wanted, None)


def _one_lesson(cast: Cast, pilot: Pilot, row: Enrolment, lesson: Lesson, at: datetime) -> None:
    teacher = _teacher(cast, pilot.student, lesson)
    landed = at + timedelta(hours=cast.random.choice((1, 3, 5)))
    act = cast.act(teacher.email, landed)
    record = opening.open_record(act, opening.OpenRecord(row.id, lesson.code))
    setting = opening.setting_of(cast.session, record, act)
    flown = _confirmed(fly(pilot, teacher, setting, act.today), setting, cast.random)
    card = _with_outcome(flown, setting, cast.random)
    _judge_self(cast, row, setting, card, at)
    record = opening.save_card(act, opening.SaveCard(record.id, record.version, card))
    signing.sign_record(act, signing.SignRecord(record.id, record.version))
    if cast.now - landed < timedelta(days=4) and not pilot.student.careful:
        return
    disagrees = cast.random.random() < 0.02
    comment = "I think the wind made this harder than the grade says." if disagrees else ""
    evening = cast.act(pilot.student.email, landed + timedelta(hours=6))
    answering.acknowledge(evening, answering.Acknowledge(record.id, not disagrees, comment))


def _close_what_is_clean(cast: Cast, student: Student, row: Enrolment, at: datetime) -> None:
    """The instructor decides on safety-critical items once the clean lessons are there."""
    act = cast.act(student.instructor, at + timedelta(hours=7))
    for item in standing.standing(cast.session, row, act.today).open_watch:
        clean = item.clean_opportunities >= item.needed_clean
        if item.is_critical and clean and item.decided_on is None:
            why = f"{item.clean_opportunities} clean lessons in a row; explains the reason."
            checks.close_watch(act, checks.CloseWatch(row.id, item.task, item.error, why))


def _teacher(cast: Cast, student: Student, lesson: Lesson) -> Staff:
    """The principal instructor, sometimes the chief in their place; a check has its checker."""
    if lesson.kind is LessonKind.STAGE_CHECK:
        return cast.staff(FLIGHT_CHECKER)
    substitute = cast.random.random() < SUBSTITUTE_RATE
    return cast.staff(cast.chief if substitute else student.instructor)


def _confirmed(card: Card, setting: rules.Setting, random: Random) -> Card:
    """The card with most of the error marks confirmed that its run and readings propose."""
    marks = [one for one in read_gauges(card, setting).proposed if random.random() < 0.6]
    entries = tuple(
        replace(
            entry,
            errors=tuple(
                dict.fromkeys(
                    (*entry.errors, *(one.error for one in marks if one.task == entry.task))
                )
            ),
        )
        for entry in card.entries
    )
    return replace(card, entries=entries)


def _with_outcome(card: Card, setting: rules.Setting, random: Random) -> Card:
    """The card with the outcome its grades point to; instructors are sometimes kinder."""
    tasks = setting.course.task_by_code
    grades, errors = [], []
    for asked in setting.tasks:
        entry, task = card.entry(asked.task), tasks[asked.task]
        meets = task.scale.meets(entry.level, asked.target)
        grades.append(
            GradeFact(
                asked.task, entry.level, task.scale.rank(entry.level), asked.target, meets
            )
        )
        errors += [
            ErrorFact(asked.task, code, task.error(code).severity) for code in entry.errors
        ]
    outcome, _ = carryover.proposed_outcome(setting.lesson, grades, errors)
    kinder = outcome in (Outcome.REPEAT, Outcome.INCOMPLETE) and random.random() < 0.72
    return replace(card, outcome=Outcome.COMPLETE.value if kinder else outcome.value)


def _judge_self(
    cast: Cast, row: Enrolment, setting: rules.Setting, card: Card, at: datetime
) -> None:
    """Let half the students grade themselves first, a little kindly."""
    if cast.random.random() < 0.5:
        return
    levels = {}
    for asked in setting.tasks:
        scale = setting.course.task_by_code[asked.task].scale
        rank = scale.rank(card.entry(asked.task).level)
        if rank is not None:
            ranks = [level.rank for level in scale.levels]
            own = min(max(ranks), max(min(ranks), rank + cast.random.choice((-1, 0, 0, 0, 1))))
            levels[asked.task] = next(one.code for one in scale.levels if one.rank == own)
    act = cast.act(row.student.email, at)
    answering.judge_self(act, answering.JudgeSelf(row.id, setting.lesson.code, levels))


def _prepare_check(
    cast: Cast, student: Student, row: Enrolment, stage: Stage, at: datetime
) -> None:
    """File what the stage asks for, recommend, approve, assign an independent checker."""
    teacher, chief = cast.act(student.instructor, at), cast.act(cast.chief, at)
    file_what_is_asked(teacher, row, stage)
    approval = recommend(teacher, row, stage)
    cast.session.refresh(row)
    checker = cast.accounts[FLIGHT_CHECKER].id
    why = "Reviewed with the instructor; go ahead." if approval.snapshot["missing"] else ""
    checks.approve(chief, checks.Approve(row.id, approval.id, checker, why))


def recommend(teacher: Act, row: Enrolment, stage: Stage) -> StageApproval:
    """Recommend for the check, with a reason where something is not met yet."""
    state = standing.standing(teacher.session, row, teacher.today)
    why = EARLY if state.readiness(stage).missing else ""
    return checks.recommend(teacher, checks.Recommend(row.id, stage.code, why))


def file_what_is_asked(teacher: Act, row: Enrolment, stage: Stage) -> None:
    """Put everything on file that the stage asks for and that is not there yet."""
    on_file = {event.code for event in onfile.file(teacher.session, row.id).events}
    for event in (*stage.events, *stage.tests):
        if event.code in on_file:
            continue
        days = VALID.get(event.kind)
        until = teacher.today + timedelta(days=days) if days else None
        filed = checks.FileEvent(row.id, event.kind, event.code, teacher.today, until, True, "")
        checks.file_event(teacher, filed)
