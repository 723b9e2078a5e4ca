"""`windtee verify` of a whole school, by the entry."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from gradebook.records.act import Act
from gradebook.records.ahead import reading_ahead
from gradebook.records.statement import answer_of, record_of
from gradebook.records.store import people, proof
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.columns import new_id
from gradebook.records.tables.ledger import AuditNode, LedgerEntry
from gradebook.records.tables.lessons import Grade, LessonRecord
from gradebook.records.tables.training import Enrolment
from tests.bench.measuring import Figure, plainly
from tests.bench.schools import Sizes
from tests.cast import TestSchool, close_school, open_school

GRADES, AT_ONCE = 10, 500
TABLES = (LedgerEntry, LessonRecord, Grade, AuditEvent, AuditNode)


def proving(size: Sizes) -> Iterator[Figure]:
    """Half the entries sign a record of 10 grades, half acknowledge one; base: reading it all.

    The entries are made by direct appends, with real signatures.
    """
    with TemporaryDirectory() as folder:
        school = open_school(Path(folder))
        _fill(school, size.entries)
        base = plainly(size.entries, lambda: _select(school), size.few)
        yield base.figure(f"prove, {size.entries} entries", lambda: _prove(school), size.few)
        close_school(school)


def _prove(school: TestSchool) -> None:
    with school.database.read() as session:
        row = people.school(session)
        assert row is not None
        assert proof.prove(session, row.vkey, gleaning=reading_ahead).findings == []


def _select(school: TestSchool) -> None:
    """Read the same rows, and nothing more."""
    with school.database.read() as session:
        for table in TABLES:
            query = select(table.__table__).execution_options(yield_per=AT_ONCE)
            for _ in session.execute(query):
                pass


def _fill(school: TestSchool, entries: int) -> None:
    for start in range(0, entries // 2, AT_ONCE):
        with school.database.write() as session:
            act = school.act(session, "ben")
            enrolment = session.get_one(Enrolment, school.enrolment)
            some = range(start, min(start + AT_ONCE, entries // 2))
            records = [_record(act, enrolment, number) for number in some]
            _insert(session, records)


def _record(act: Act, enrolment: Enrolment, number: int) -> LessonRecord:
    """A record as signing makes it, stated and acknowledged, its rows not yet written."""
    with act.session.no_autoflush:
        row = LessonRecord(
            id=new_id(),
            enrolment_id=enrolment.id,
            enrolment=enrolment,
            revision_id=enrolment.revision_id,
            lesson="s-01",
            kind="dual",
            attempt=number + 1,
            instructor_id=act.actor.person_id,
            state="acknowledged",
            origin="flown",
            version=2,
            card={"flown_on": "2026-05-20", "entries": [], "readings": {}, "remarks": "Wind."},
            created_at=act.at,
            saved_at=act.at,
            flown_on=(act.at - timedelta(days=number % 30)).date(),
            outcome="complete",
            aircraft="invented KM-H1",
            times={"dual": 72, "ground": 30},
            remarks="Wind 12 kt.",
            signed_at=act.at,
            acknowledged_at=act.at,
            agrees=True,
            comment="",
            reason="",
            void_reason="",
        )
        row.grades = [_grade(row.id, place) for place in range(GRADES)]
    body = {**record_of(row), "supersedes": None, "check": None}
    placed = act.state("record.sign", enrolment.id, body)
    row.sequence, row.digest = placed.seq, placed.digest
    act.state("record.acknowledge", enrolment.id, answer_of(row))
    return row


def _grade(record: str, place: int) -> Grade:
    return Grade(
        id=new_id(),
        record_id=record,
        place=place,
        task=f"task-{place:02d}",
        scale="LCG-MAN",
        level="perform",
        rank=4,
        target="perform",
        meets=True,
        together=False,
        carried_from=None,
        remark="As asked.",
    )


def _insert(session: Session, records: list[LessonRecord]) -> None:
    names = LessonRecord.__table__.columns.keys()
    rows = [{name: getattr(one, name) for name in names} for one in records]
    session.execute(insert(LessonRecord), rows)
    names = Grade.__table__.columns.keys()
    grades = [
        {name: getattr(row, name) for name in names} for one in records for row in one.grades
    ]
    session.execute(insert(Grade), grades)
