"""Erasing takes every word of a student and leaves everything else provable."""

from sqlalchemy import text

from gradebook.ledger.chain import ALTERED
from gradebook.records.keeping import backup, drill, erasures
from gradebook.records.store import people, proof
from gradebook.records.store.proof import Proof
from tests.cast import TestSchool
from tests.erasing.gone import (
    CANARIES,
    agreed,
    erase,
    in_files,
    leave_traces,
    rows_of_others,
    told_of,
)
from tests.records.keeping.test_drill import unguarded


def proved(school: TestSchool) -> Proof:
    with school.database.read() as session:
        row = people.school(session)
        assert row is not None
        return proof.prove(session, row.vkey)


def test_nothing_of_the_student_is_found_and_everything_is_proved(
    either_school: TestSchool,
) -> None:
    school = either_school
    leave_traces(school)
    assert told_of(school, *CANARIES)
    request = agreed(school)
    done = erase(school, request)
    own = (school.ids["ana"], school.enrolment)
    assert told_of(school, *CANARIES, *own) == []
    found = proved(school)
    assert (found.code, found.findings) == (0, [])
    assert len(found.erased) == len(done.erasure.entries)


def test_the_file_holds_no_byte_of_it(school: TestSchool) -> None:
    leave_traces(school)
    erase(school, agreed(school))
    erasures.sweep(school.database.engine)
    school.database.engine.dispose()
    assert in_files(school.settings.data, *CANARIES) == []


def test_other_students_keep_every_row(either_school: TestSchool) -> None:
    school = either_school
    leave_traces(school)
    request = agreed(school)
    before = rows_of_others(school)
    erase(school, request)
    with school.database.engine.connect() as connection:
        for table, rows in before.items():
            if table in {"erasure_request", "login_attempt"}:
                continue
            after = {
                str(tuple(row))
                for row in connection.execute(text(f'SELECT * FROM "{table}"'))  # noqa: S608
            }
            assert rows <= after, table


def test_a_drill_with_a_backup_from_before_passes(either_school: TestSchool) -> None:
    school = either_school
    leave_traces(school)
    backup.back_up(
        school.settings, school.database, backup.Wanted(backup.folder_in(school.settings.data))
    )
    erase(school, agreed(school))
    done = drill.drill(school.settings, school.database)
    assert (done.code, done.gone, done.findings.altered) == (0, [], [])


def test_the_installation_tells_of_backups_that_still_hold_it(school: TestSchool) -> None:
    leave_traces(school)
    wanted = backup.Wanted(backup.folder_in(school.settings.data))
    old = backup.back_up(school.settings, school.database, wanted)
    told = "1 backup still holds records that were erased"
    assert told not in school.visitor("gus").get("/installation")
    erase(school, agreed(school))
    school.clock.pass_minutes(1)
    backup.back_up(school.settings, school.database, wanted)
    page = school.visitor("gus").get("/installation")
    assert told in page
    assert old.name in page
    old.unlink()
    assert told not in school.visitor("gus").get("/installation")


def test_a_text_taken_away_by_hand_is_altered(either_school: TestSchool) -> None:
    school = either_school
    leave_traces(school)
    unguarded(
        school,
        "UPDATE ledger_entry SET statement = '', kind = 'erased', actor_id = NULL,"
        " enrolment_id = NULL, statement_id = 'erased-' || seq"
        " WHERE kind = 'record.sign' AND seq = (SELECT max(seq) FROM ledger_entry"
        " WHERE kind = 'record.sign')",
    )
    found = proved(school)
    assert found.code == ALTERED
    assert any("no entry erased it" in one.words for one in found.findings)
