"""The loose ends a real school has: an amendment, an unsigned draft, checks recommended."""

from dataclasses import replace
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.demo import training
from gradebook.demo.scenario import Scenario
from gradebook.records.act import Act
from gradebook.records.commands import answering, checks, opening, signing
from gradebook.records.store import enrolments, people, standing
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.people import Person
from gradebook.records.tables.training import Enrolment
from gradebook.records.values import State
from syllabus.course import LessonKind

AMENDED, DRAFTED = "signe@kelpmoor.example", "nils@kelpmoor.example"
WHY = "The landings of this lesson were written down wrong: there were two more."


def finish(
    session: Session, scenario: Scenario, accounts: dict[str, Person], now: datetime
) -> None:
    """Amend one record, leave one draft unsigned, recommend whoever stands before a check."""
    _amend(session, scenario, accounts, now)
    _draft(session, scenario, accounts, now)
    for student in scenario.students:
        if student.lessons and not student.graduated:
            _recommend(session, scenario, accounts[student.email], now)


def _enrolment(session: Session, student: Person) -> Enrolment:
    query = select(Enrolment).where(Enrolment.student_id == student.id)
    return session.scalars(query).unique().one()


def _amend(
    session: Session, scenario: Scenario, accounts: dict[str, Person], now: datetime
) -> None:
    query = select(LessonRecord).where(
        LessonRecord.enrolment_id == _enrolment(session, accounts[AMENDED]).id,
        LessonRecord.state == State.ACKNOWLEDGED,
        LessonRecord.kind == LessonKind.DUAL.value,
    )
    original = session.scalars(query.order_by(LessonRecord.flown_on.desc())).unique().first()
    if original is None:
        return
    actor = people.actor_of(original.instructor)
    act = Act(session, actor, now - timedelta(hours=20), scenario.zone)
    draft = answering.amend_record(act, answering.Amend(original.id, WHY))
    card = opening.card_of(draft)
    landings = str(int(card.times.get("day_landings", "0")) + 2)
    card = replace(card, times={**card.times, "day_landings": landings})
    draft = opening.save_card(act, opening.SaveCard(draft.id, draft.version, card))
    signing.sign_record(act, signing.SignRecord(draft.id, draft.version))


def _draft(
    session: Session, scenario: Scenario, accounts: dict[str, Person], now: datetime
) -> None:
    row = _enrolment(session, accounts[DRAFTED])
    principal = next(held.person for held in row.teaching if held.principal)
    act = Act(session, people.actor_of(principal), now - timedelta(hours=30), scenario.zone)
    coming = standing.standing(session, row, act.today).next_lesson
    if coming is None or coming.kind is LessonKind.STAGE_CHECK:
        return
    record = opening.open_record(act, opening.OpenRecord(row.id, coming.code))
    setting = opening.setting_of(session, record, act)
    half = replace(setting, tasks=setting.tasks[: len(setting.tasks) // 2])
    card = opening.grade_rest(opening.card_of(record), half)
    opening.save_card(act, opening.SaveCard(record.id, record.version, card))


def _recommend(session: Session, scenario: Scenario, student: Person, now: datetime) -> None:
    row = _enrolment(session, student)
    principal = next(held.person for held in row.teaching if held.principal)
    act = Act(session, people.actor_of(principal), now - timedelta(hours=10), scenario.zone)
    coming = standing.standing(session, row, act.today).next_lesson
    waiting = coming is not None and coming.kind is LessonKind.STAGE_CHECK
    if coming is not None and waiting and enrolments.is_current(row):
        stage = standing.standing(session, row, act.today).stage
        training.file_what_is_asked(act, row, stage)
        checks.recommend(act, checks.Recommend(row.id, stage.code))
