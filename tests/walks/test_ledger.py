"""From a signed lesson to its entry, its receipt, and what anybody can prove of it."""

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import text

from gradebook.cli import main
from gradebook.ledger import notes
from gradebook.ledger.canonical import sha256_hex
from gradebook.ledger.statements import read_entry, read_statement
from gradebook.ledger.tree import verify_inclusion
from gradebook.records import checkpoints, guards
from gradebook.records.commands import checkpointing
from gradebook.records.database import migrating
from gradebook.records.faults import TornError
from gradebook.records.store import people, proof, schoolkeys
from tests.cast import SECRET, SEED, TestSchool, Visitor, close_school, open_school
from tests.walks.test_main_job import sign_first_lesson
from tests.walks.test_stage_check import approve


def proven(school: TestSchool) -> proof.Proof:
    """What reading everything finds, with the checkpoints kept outside."""
    with school.database.read() as session:
        row = people.school(session)
        assert row is not None
        places = checkpoints.folders(school.settings.data)
        kept = checkpoints.kept(places, schoolkeys.succession(session))
        return proof.prove(session, row.vkey, list(kept))


def behind_the_guards(school: TestSchool, *statements: str) -> None:
    """What somebody who owns the database can do."""
    with migrating(school.database.engine) as connection, connection.begin():
        guards.remove(connection)
        for statement in statements:
            connection.execute(text(statement))
        guards.install(connection)


LONG = "The aircraft leaves tomorrow, and the next one comes in March..."
"""A reason that is as long as a digest."""


def receipt_of(who: Visitor, record: str) -> dict[str, object]:
    found: dict[str, object] = json.loads(who.get(f"/records/{record}/receipt"))
    return found


def test_an_auditor_follows_a_grade_to_its_entry(either_school: TestSchool) -> None:
    record = sign_first_lesson(either_school)
    gus = either_school.visitor("gus")
    page = gus.get(f"/records/{record}")
    assert "Unaltered since it was signed." in page
    seq = page.partition('href="/ledger/')[2].partition('"')[0]
    entry = gus.get(f"/ledger/{seq}")
    assert f"Entry {seq}: A lesson record was signed" in entry
    assert "Signature, text and place in the ledger are right." in entry
    assert "signed with the secret typed" in entry
    assert f"/records/{record}" in entry
    assert "A lesson record was signed" in gus.get("/ledger")


def test_the_number_on_a_paper_leads_to_its_entry_and_on_to_the_trail(
    either_school: TestSchool,
) -> None:
    record = sign_first_lesson(either_school)
    gus = either_school.visitor("gus")
    seq = gus.get(f"/records/{record}").partition('href="/ledger/')[2].partition('"')[0]
    entry = gus.get(f"/ledger?entry={seq}")
    assert f"Entry {seq}: A lesson record was signed" in entry
    assert f'href="/audit?student={either_school.enrolment}#trail"' in entry
    everything = gus.get("/audit")
    hers = gus.get(f"/audit?student={either_school.enrolment}")
    assert "in the trail of Ana" in hers
    for told in ("Sign a lesson record", "Open a grading card"):
        assert told in hers
    assert "keep one&#39;s own account" in everything
    assert "keep one&#39;s own account" not in hers
    for number in ("-3", "999999999999"):
        gus.get(f"/ledger?entry={number}", 200 if number == "-3" else 404)


def test_the_trail_names_people(school: TestSchool) -> None:
    page = f"/students/{school.enrolment}/readiness/stage-1"
    cleo = school.visitor("cleo")
    cleo.get(page)
    cleo.post(f"{page}/recommend", reason="The check is booked.")
    approve(cleo, page, school, "eve", reason=LONG)
    trail = school.visitor("gus").get("/audit")
    assert f"checker: {school.ids['eve']}" not in trail
    assert "checker: Eve" in trail
    assert f"reason: {LONG}" in trail


def test_the_ledger_is_not_for_students_instructors_or_administrators(
    school: TestSchool,
) -> None:
    sign_first_lesson(school)
    for name in ("ana", "ben", "eve", "flo"):
        school.visitor(name).get("/ledger", 403)
        school.visitor(name).get("/ledger/1", 403)
    school.visitor("cleo").get("/ledger/1")
    school.visitor("cleo").get("/ledger/999999", 404)


def test_a_receipt_proves_the_record_without_the_server(either_school: TestSchool) -> None:
    record = sign_first_lesson(either_school)
    kept = receipt_of(either_school.visitor("ana"), record)
    with either_school.database.read() as session:
        school = people.school(session)
        assert school is not None
        vkey = school.vkey
    saw = notes.read_checkpoint(notes.open_note(str(kept["checkpoint"]), vkey))
    entry = read_entry(str(kept["entry"]))
    path = [bytes.fromhex(str(one)) for one in list(kept["proof"])]  # type: ignore[call-overload]
    assert verify_inclusion(entry.seq - 1, saw.size, entry.leaf(), path, saw.root)


def test_a_receipt_is_not_for_strangers(school: TestSchool) -> None:
    record = sign_first_lesson(school)
    for name in ("hal", "dov"):
        school.visitor(name).get(f"/records/{record}/receipt", 404)


def test_a_receipt_shows_a_ledger_that_was_cut_off(
    school: TestSchool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = sign_first_lesson(school)
    file = tmp_path / "kept.receipt"
    file.write_text(school.visitor("ana").get(f"/records/{record}/receipt"))
    behind_the_guards(
        school,
        "DELETE FROM ledger_entry WHERE kind = 'record.sign'",
    )
    (tmp_path / "school.key").write_text(SEED.hex())
    words = ["verify", "--data", str(tmp_path), "--checkpoint", str(file)]
    assert main(words) == 3
    assert "are missing" in capsys.readouterr().err


@pytest.fixture
def answered(tmp_path: Path) -> Iterator[TestSchool]:
    """A school with an amended, an acknowledged and a void record."""
    school = open_school(tmp_path)
    record = sign_first_lesson(school)
    ana = school.visitor("ana")
    ana.get(f"/records/{record}")
    ana.post(f"/records/{record}/acknowledge", answer="agree", secret=SECRET)
    yield school
    close_school(school)


ALTERED = {
    "a grade": "UPDATE grade SET level = 'perform', rank = 4 WHERE task = 'run-up'",
    "a remark": "UPDATE lesson_record SET remarks = 'Fine.'",
    "the outcome": "UPDATE lesson_record SET outcome = 'repeat'",
    "the day": "UPDATE lesson_record SET flown_on = '2026-01-01'",
    "an error taken away": "DELETE FROM error_mark",
    "a grade taken away": "DELETE FROM grade WHERE task = 'hover'",
    "the answer turned": "UPDATE lesson_record SET agrees = NOT agrees",
    "who teaches": "UPDATE teaching SET principal = NOT principal",
    "a role": "UPDATE role_grant SET role = 'chief instructor' WHERE role = 'student'",
    "the student": "UPDATE enrolment SET enrolled_on = '2020-01-01'",
    "a statement": "UPDATE ledger_entry SET statement = replace(statement, 'run-up', 'run-op')",
    "an entry": "UPDATE ledger_entry SET entry = replace(entry, '2026', '2025') WHERE seq = 5",
    "a leaf": "UPDATE ledger_entry SET leaf = prev WHERE seq = 7",
    "the trail": "UPDATE audit_event SET actor_id = NULL",
    "an act taken away": "DELETE FROM audit_node WHERE place = 1",
}


@pytest.mark.parametrize("what", ALTERED)
def test_whatever_is_altered_is_found(answered: TestSchool, what: str) -> None:
    assert proven(answered).findings == []
    behind_the_guards(answered, ALTERED[what])
    assert proven(answered).code == 2


def test_a_record_forged_into_the_rows_is_found(answered: TestSchool) -> None:
    behind_the_guards(
        answered,
        "INSERT INTO role_grant (id, person_id, role, granted_at)"
        " SELECT 'forged', id, 'chief instructor', created_at FROM person LIMIT 1",
    )
    assert "nobody signed this row into being" in proven(answered).findings[0].words


def test_entries_renumbered_over_a_gap_are_found(answered: TestSchool) -> None:
    behind_the_guards(
        answered,
        "DELETE FROM ledger_entry WHERE seq = 6",
        "UPDATE ledger_entry SET seq = seq - 1 WHERE seq = 7",
    )
    assert proven(answered).code == 3


def test_a_superseded_record_shown_as_current_is_told(school: TestSchool) -> None:
    record = sign_first_lesson(school)
    ben = school.visitor("ben")
    ben.get(f"/records/{record}")
    ben.get(f"/records/{record}/void")
    ben.post(f"/records/{record}/void", reason="Wrong student.", secret=SECRET)
    assert proven(school).findings == []
    behind_the_guards(
        school, "UPDATE lesson_record SET state = 'signed', voided_at = NULL, void_reason = ''"
    )
    assert proven(school).code in (2, 6)
    assert 6 in {one.code for one in proven(school).findings}


def test_a_database_rolled_back_to_an_older_copy_signs_nothing_more(
    school: TestSchool,
) -> None:
    """Inside, an older copy is whole: only the checkpoint kept outside shows it."""
    data = school.settings.data
    school.database.engine.dispose()
    older = data / "older.db"
    shutil.copy(data / "windtee.db", older)
    sign_first_lesson(school)
    assert proven(school).findings == []
    close_school(school)
    for name in ("windtee.db-wal", "windtee.db-shm"):
        (data / name).unlink(missing_ok=True)
    shutil.copy(older, data / "windtee.db")
    found = proven(school)
    assert found.code == 3
    assert "are missing" in found.findings[-1].words
    with school.database.read() as session, pytest.raises(TornError, match="covers"):
        checkpointing.ready(session, SEED, checkpoints.folders(data))


def test_another_key_does_not_serve_the_school(school: TestSchool) -> None:
    with school.database.read() as session, pytest.raises(TornError, match="not the one"):
        checkpointing.ready(session, bytes(32), [])


def test_a_void_record_stays_readable_and_counts_no_more(either_school: TestSchool) -> None:
    record = sign_first_lesson(either_school)
    ben = either_school.visitor("ben")
    folder = f"/students/{either_school.enrolment}/records"
    ben.get(f"/records/{record}/void")
    assert "Say why" in ben.post(f"/records/{record}/void", 422, reason=" ", secret=SECRET)
    ben.post(f"/records/{record}/void", reason="The wrong student.", secret=SECRET)
    page = ben.get(f"/records/{record}")
    assert "Declared void" in page
    assert "The wrong student." in page
    assert "Void" in ben.get(folder)
    ben.get(f"/records/{record}/amend", 409)
    assert "S-01" in ben.get(f"/students/{either_school.enrolment}")
    assert proven(either_school).findings == []


def test_nobody_else_declares_a_record_void(school: TestSchool) -> None:
    record = sign_first_lesson(school)
    school.visitor("ana").get(f"/records/{record}/void", 403)
    school.visitor("dov").get(f"/records/{record}/void", 404)
    school.visitor("cleo").get(f"/records/{record}/void")


def test_an_enrolment_ends_with_a_reason_and_takes_no_lesson_more(
    either_school: TestSchool,
) -> None:
    cleo = either_school.visitor("cleo")
    path = f"/students/{either_school.enrolment}/end"
    assert "still missing" in cleo.get(path)
    fields = {"ended_on": "2026-05-20", "secret": SECRET}
    refused = cleo.post(path, 422, how="graduated", reason="", **fields)
    assert "Not finished yet" in refused
    wordy = cleo.post(path, 422, how="transferred", reason="x" * 2001, **fields)
    assert "Keep the reason under 2000 characters." in wordy
    cleo.post(path, how="transferred", reason="Moves to the north.", **fields)
    assert "Transferred on 20 May 2026" in cleo.get(
        f"/students/{either_school.enrolment}/records"
    )
    ben = either_school.visitor("ben")
    ben.get(f"/students/{either_school.enrolment}")
    ben.post(f"/students/{either_school.enrolment}/lessons", 409, lesson="s-01")
    assert proven(either_school).findings == []


def test_the_entry_names_the_text_that_says_what_was_graded(school: TestSchool) -> None:
    record = sign_first_lesson(school)
    kept = receipt_of(school.visitor("cleo"), record)
    entry = read_entry(str(kept["entry"]))
    seq = entry.seq
    with school.database.read() as session:
        statement = session.execute(
            text("SELECT statement FROM ledger_entry WHERE seq = :seq"), {"seq": seq}
        ).scalar_one()
    assert read_statement(statement).body["record"] == record
    assert sha256_hex(statement.encode()) == entry.stmt_sha256


def test_a_file_among_the_checkpoints_that_is_not_ours_is_told(school: TestSchool) -> None:
    folder = school.settings.data / checkpoints.FOLDER
    folder.mkdir(exist_ok=True)
    (folder / "999999999999.note").write_text("elsewhere/ledger\n7\nAAAA\n")
    page = school.visitor("gus").get("/audit?prove=1", 503)
    assert "A checkpoint kept outside is not this school" in page
