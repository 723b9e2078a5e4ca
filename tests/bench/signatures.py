"""A sign-off of twenty grades, whole: checks, rows, statement, ledger, trail and needle."""

from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlalchemy import insert, select

from gradebook.records import guards
from gradebook.records.card import Card, Entry
from gradebook.records.commands import opening, signing
from gradebook.records.database import migrating
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.columns import new_id
from gradebook.records.tables.lessons import Grade, LessonRecord
from syllabus.course import Course
from tests.bench.measuring import Baseline, Figure, summed_up, timed
from tests.bench.schools import Sizes
from tests.cast import MORNING, TestSchool, close_school, open_school
from tests.small_course import twenty_tasks

LESSON = "s-00"
GRADES = 20
Row = dict[str, Any]


def entering(size: Sizes) -> Iterator[Figure]:
    """The later half of one student's lessons, commits included; the base are the rows alone.

    SQLite as a school has it: every commit reaches the disk. The plain rows go into the same
    tables, without guards, in transactions of their own.
    """
    with TemporaryDirectory() as folder:
        school = open_school(Path(folder), files=twenty_tasks())
        times = [_sign(school) for _ in range(size.lessons)]
        rows = _rows(school)
        with migrating(school.database.engine) as connection, connection.begin():
            guards.remove(connection)
        plain = [_insert(school, *rows, number) for number in range(size.many)]
        close_school(school)
    base = Baseline(GRADES + 2, summed_up(plain).seconds)
    yield base.of_runs("sign-off with its statement", times[size.lessons // 2 :], GRADES)


def _sign(school: TestSchool) -> tuple[float, float]:
    """Wall and CPU seconds of signing one draft; making and filling it is not counted."""
    with school.database.write() as session:
        act = school.act(session, "ben")
        draft = opening.open_record(act, opening.OpenRecord(school.enrolment, LESSON))
        card = _card(opening.setting_of(session, draft, act).course)
        draft = opening.save_card(act, opening.SaveCard(draft.id, draft.version, card))
        command = signing.SignRecord(draft.id, draft.version)
    school.clock.pass_minutes(1)

    def work() -> None:
        with school.database.write() as session:
            signing.sign_record(school.act(session, "ben"), command)

    return timed(work)


def _card(course: Course) -> Card:
    tasks = course.lesson_by_code[LESSON].tasks
    return Card(
        flown_on=MORNING.date().isoformat(),
        aircraft="invented",
        ident="KM-H1",
        entries=tuple(Entry(one.task, one.target, "As asked.") for one in tasks),
        times={"dual": "1.2", "ground": "0:30"},
        outcome="complete",
    )


def _rows(school: TestSchool) -> tuple[Row, list[Row]]:
    """The last record signed and its grades, to be copied."""
    records, grades = LessonRecord.__table__, Grade.__table__
    with school.database.read() as session:
        newest = select(records).order_by(records.c.sequence.desc())
        record = dict(session.execute(newest).mappings().first() or {})
        own = select(grades).where(grades.c.record_id == record["id"])
        return record, [dict(row) for row in session.execute(own).mappings()]


def _insert(
    school: TestSchool, record: Row, grades: list[Row], number: int
) -> tuple[float, float]:
    """Wall and CPU seconds of inserting the same rows once more, and an event."""
    name = new_id()
    changes: Row = {"id": name, "sequence": 10**6 + number}
    copies = [{**row, "id": new_id(), "record_id": name} for row in grades]
    event = {"at": MORNING, "action": "lesson-record:sign", "object_id": name, "facts": {}}

    def work() -> None:
        with school.database.write() as session:
            session.execute(insert(LessonRecord), [{**record, **changes}])
            session.execute(insert(Grade), copies)
            session.execute(insert(AuditEvent), [event])

    return timed(work)
