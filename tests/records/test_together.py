"""Several selects in one statement give what each gives alone."""

from sqlalchemy import func, select

from gradebook.records.store.together import Asked, together
from gradebook.records.tables.ledger import LedgerEntry
from gradebook.records.tables.lessons import Grade, LessonRecord
from gradebook.records.tables.needle import NeedleFit, NeedleForecast, NeedleState
from tests.cast import TestSchool
from tests.counting import asked
from tests.walks.test_main_job import sign_first_lesson

QUERIES = (
    select(LessonRecord.id, LessonRecord.flown_on, LessonRecord.times, LessonRecord.agrees),
    select(Grade.task, Grade.rank, Grade.meets, Grade.remark),
    select(NeedleState.tasks, NeedleState.numbers),
    select(NeedleForecast.task, NeedleForecast.chance, NeedleForecast.low),
    select(LedgerEntry.recorded_at, LedgerEntry.prev).order_by(LedgerEntry.seq.desc()).limit(2),
    select(func.count(Grade.id).label("number")),
    select(NeedleFit.id),
)
ASKED = [Asked(query) for query in QUERIES]


def test_every_select_gets_its_own_rows_with_their_own_types(either_school: TestSchool) -> None:
    sign_first_lesson(either_school)
    with either_school.database.read() as session:
        alone = [[row._asdict() for row in one.rows(session)] for one in ASKED]
        with asked(either_school.database.engine) as sent:
            found = together(session, *ASKED)
    assert len(sent) == 1
    as_words = [sorted(map(repr, rows)) for rows in alone]
    assert [sorted(repr(row._asdict()) for row in rows) for rows in found] == as_words
    assert [bool(rows) for rows in found] == [True] * 6 + [False]
