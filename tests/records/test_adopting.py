"""A school that kept records before the ledger is taken over with all it had."""

from sqlalchemy import select

from gradebook.records.commands import adopting, checks
from gradebook.records.keeping.upgrading import adopt, migrate
from gradebook.records.store import people, proof, signatures
from gradebook.records.tables.ledger import LedgerEntry
from gradebook.records.tables.lessons import LessonRecord
from tests.cast import SECRET, SEED, TestSchool
from tests.early import go_back
from tests.records.rebuilding.behind import behind, everything, rebuilt
from tests.walks.test_main_job import sign_first_lesson


def of_old(school: TestSchool) -> str:
    """A school of old with one record, with which the student disagrees."""
    record = sign_first_lesson(school)
    answer = {"answer": "disagree", "comment": "Windy.", "secret": SECRET}
    school.visitor("ana").send(f"/records/{record}/acknowledge", answer)
    assert go_back(school.database.engine, "20261126_needle", school.settings.data) == 1
    migrate(school.settings)
    return record


def test_everything_of_old_proves_once_it_is_adopted(either_school: TestSchool) -> None:
    of_old(either_school)
    assert adopt(either_school.settings) > 10
    with either_school.database.read() as session:
        school = people.school(session)
        assert school is not None
        found = proof.prove(session, school.vkey)
    assert found.findings == []


def test_an_adopted_record_says_that_it_is_older_than_the_ledger(
    either_school: TestSchool,
) -> None:
    record = of_old(either_school)
    adopt(either_school.settings)
    with either_school.database.read() as session:
        row = session.get_one(LessonRecord, record)
        found = signatures.proof_of(session, row)
        kinds = session.scalars(select(LedgerEntry.kind).where(LedgerEntry.seq >= row.sequence))
        assert kinds.all() == ["record.sign", "record.disagree"]
    assert found.unaltered
    assert found.signed_by == "taken over from before the ledger"
    assert "taken over from before the ledger" in either_school.visitor("ana").get(
        f"/records/{record}"
    )


def test_what_is_older_than_the_ledger_is_put_back_but_for_its_moments(
    either_school: TestSchool,
) -> None:
    """The statement was made later: who filed a paper, and when, is not in it."""
    of_old(either_school)
    adopt(either_school.settings)
    rows = everything(either_school)
    assert rebuilt(either_school).put_back == []
    behind(either_school, "UPDATE grade SET remark = 'Fine.'")
    assert len(rebuilt(either_school).put_back) == 1
    assert everything(either_school) == rows


def test_a_school_with_a_ledger_is_not_adopted_again(school: TestSchool) -> None:
    sign_first_lesson(school)
    engine = school.database.engine
    assert adopting.adopt(engine, SEED, school.clock.at) == 0


def test_lessons_go_on_after_the_old_ones(either_school: TestSchool) -> None:
    of_old(either_school)
    adopt(either_school.settings)
    with either_school.database.write() as session:
        act = either_school.act(session, "ben").as_school()
        event = checks.FileEvent(
            either_school.enrolment, "medical", "medical", act.today, None, True, ""
        )
        checks.file_event(act, event)
        school = people.school(session)
        assert school is not None
        assert proof.prove(session, school.vkey).findings == []
