"""The loose ends a real school has: an amendment, an unsigned draft, checks recommended."""

from dataclasses import replace
from datetime import timedelta

from sqlalchemy import select

from gradebook.demo import training
from gradebook.demo.training import Cast
from gradebook.records.act import Act
from gradebook.records.commands import answering, certifying, opening, signing
from gradebook.records.copying.papers import Purpose
from gradebook.records.store import enrolments, standing
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.people import Person
from gradebook.records.tables.training import Enrolment
from gradebook.records.values import State
from syllabus.course import LessonKind

AMENDED, DRAFTED = "signe@kelpmoor.example", "nils@kelpmoor.example"
WHY = "The landings of this lesson were written down wrong: there were two more."


def finish(cast: Cast) -> None:
    """Amend one record, leave one draft unsigned, recommend whoever stands before a check."""
    _amend(cast)
    _draft(cast)
    for student in cast.scenario.students:
        if student.lessons and not (student.graduated or student.left):
            _recommend(cast, student.email)


def certify(cast: Cast) -> None:
    """The chief certifies the records of those who graduated."""
    act = cast.act(cast.chief, cast.now)
    for student in cast.scenario.students:
        if student.graduated:
            row = _enrolment(cast, student.email)
            wanted = certifying.Certify(row.id, Purpose.GRADUATION, confirmed=True)
            certifying.certify(act, wanted, None)


def _enrolment(cast: Cast, email: str) -> Enrolment:
    query = select(Enrolment).where(Enrolment.student_id == cast.accounts[email].id)
    return cast.session.scalars(query).unique().one()


def _ago(cast: Cast, person: Person, hours: int) -> Act:
    """An act of this person, some hours ago."""
    return cast.act(person.email, cast.now - timedelta(hours=hours))


def _amend(cast: Cast) -> None:
    session = cast.session
    query = select(LessonRecord).where(
        LessonRecord.enrolment_id == _enrolment(cast, AMENDED).id,
        LessonRecord.state == State.ACKNOWLEDGED,
        LessonRecord.kind == LessonKind.DUAL.value,
    )
    original = session.scalars(query.order_by(LessonRecord.flown_on.desc())).unique().first()
    if original is None:
        return
    act = _ago(cast, original.instructor, 20)
    draft = answering.amend_record(act, answering.Amend(original.id, WHY))
    card = opening.card_of(draft)
    landings = str(int(card.times.get("day_landings", "0")) + 2)
    card = replace(card, times={**card.times, "day_landings": landings})
    draft = opening.save_card(act, opening.SaveCard(draft.id, draft.version, card))
    signing.sign_record(act, signing.SignRecord(draft.id, draft.version))


def _draft(cast: Cast) -> None:
    row = _enrolment(cast, DRAFTED)
    principal = next(held.person for held in row.teaching if held.principal)
    act = _ago(cast, principal, 30)
    coming = standing.standing(cast.session, row, act.today).next_lesson
    if coming is None or coming.kind is LessonKind.STAGE_CHECK:
        return
    record = opening.open_record(act, opening.OpenRecord(row.id, coming.code))
    setting = opening.setting_of(cast.session, record, act)
    half = replace(setting, tasks=setting.tasks[: len(setting.tasks) // 2])
    card = opening.grade_rest(opening.card_of(record), half)
    opening.save_card(act, opening.SaveCard(record.id, record.version, card))


def _recommend(cast: Cast, email: str) -> None:
    session, row = cast.session, _enrolment(cast, email)
    principal = next(held.person for held in row.teaching if held.principal)
    act = _ago(cast, principal, 10)
    coming = standing.standing(session, row, act.today).next_lesson
    waiting = coming is not None and coming.kind is LessonKind.STAGE_CHECK
    if coming is not None and waiting and enrolments.is_current(row):
        stage = standing.standing(session, row, act.today).stage
        training.file_what_is_asked(act, row, stage)
        training.recommend(act, row, stage)
