"""A whole school rebuilt; what rebuilding leaves alone; when it refuses."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from gradebook.cli import main
from gradebook.ledger import notes
from gradebook.ledger.notes import Checkpoint
from gradebook.ledger.statements import read_statement
from gradebook.records import checkpoints
from gradebook.records.commands import answering
from gradebook.records.commands.mending import LackingError
from gradebook.records.mirrors import PARTS
from gradebook.records.rebuilding import FIRST, made_by
from gradebook.records.store import ledger, schoolkeys
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.needle import NeedleState
from gradebook.records.tables.training import Enrolment
from tests.cast import SEED, TestSchool
from tests.records.rebuilding.behind import (
    behind,
    empty,
    everything,
    forge,
    of_table,
    proven,
    rebuilt,
)
from tests.records.rebuilding.conftest import Story
from tests.story import FLOWN, MET, done, opened, signed, tell

TOKEN = re.compile(r'name="csrf_token"\s+value="[^"]+"')


def pages(story: Story) -> dict[tuple[str, str], str]:
    """What people see of the story."""
    school = story.school
    folders = (school.enrolment, school.stranger_enrolment)
    paths = (
        *(f"/records/{record}" for record in story.records.values()),
        *(f"/students/{one}{page}" for one in folders for page in ("", "/records", "/file")),
        f"/students/{school.enrolment}/readiness/stage-1",
        "/people",
    )
    cleo = school.visitor("cleo")
    seen = {("cleo", path): cleo.get(path) for path in paths}
    seen["ana", "/"] = school.visitor("ana").get("/")
    return {place: TOKEN.sub("", page) for place, page in seen.items()}


def test_rows_emptied_altogether_are_rebuilt(either_school: TestSchool) -> None:
    """A record made anew was saved once, when it was signed: no statement says more of it."""
    story = Story(either_school, tell(either_school), {})
    rows, records = everything(either_school), of_table(either_school, LessonRecord)
    shown = pages(story)
    empty(either_school)
    assert proven(either_school).code == 2
    found = rebuilt(either_school)
    assert found.right == 0
    assert proven(either_school).findings == []
    after = of_table(either_school, LessonRecord)
    for name, row in records.items():
        once = dict.fromkeys(("created_at", "saved_at"), row["signed_at"]) | {"version": 1}
        assert after.pop(name) == ({**row, **once} if row["signed_at"] else row)
    assert after == {}
    rows.pop("lesson_record")
    others = everything(either_school)
    others.pop("lesson_record")
    again = {"login_session", "known_device", "login_attempt"}  # people who looked at the pages
    assert {name: others[name] for name in rows.keys() - again} == {
        name: rows[name] for name in rows.keys() - again
    }
    assert pages(story) == shown


def test_a_sound_school_stays_as_it_is(story: Story) -> None:
    found = rebuilt(story.school)
    assert (found.put_back, found.removed, found.left) == ([], [], [])
    assert found.right == found.proof.rows > 20
    assert everything(story.school) == story.rows


def test_every_column_is_stated_or_known_to_be_unsaid(story: Story) -> None:
    with story.school.database.read() as session:
        statements = [read_statement(row.statement) for row in ledger.entries(session)]
    made = [one for one in map(made_by, statements) if one is not None]
    assert {one.table for one in made} == set(FIRST)
    for one in made:
        columns = {column.name for column in one.table.__table__.columns}
        assert columns == one.columns.keys() | FIRST[one.table].keys()
        for table, rows in one.parts.items():
            columns = {column.name for column in table.__table__.columns}
            assert all(columns == row.keys() | {"id", "record_id"} for row in rows)
            assert table in PARTS


def test_text_typed_in_another_form_is_sound(either_school: TestSchool) -> None:
    """What is signed is in NFC (RFC 8785 leaves that to us); what was typed may not be."""
    typed = replace(FLOWN, remarks="cafe\u0301", readings={"left-drop": "140"})
    signed(either_school, "ben", opened(either_school, "ben", "s-01"), typed)
    rows = everything(either_school)
    assert proven(either_school).findings == []
    assert rebuilt(either_school).put_back == []
    assert everything(either_school) == rows


def test_a_student_whose_only_lesson_is_void_is_believed_nothing_of(
    school: TestSchool,
) -> None:
    record = signed(school, "ben", opened(school, "ben", "s-01"), FLOWN)
    done(school, "ben", answering.void_record, answering.Void(record, "The wrong student."))
    with school.database.read() as session:
        assert session.query(NeedleState).count() == 0


def test_a_dry_run_tells_and_does_nothing(story: Story) -> None:
    behind(story.school, "UPDATE close_decision SET reason = 'So.'")
    spoilt = everything(story.school)
    found = rebuilt(story.school, dry=True)
    assert [one.columns for one in found.put_back] == [
        {"reason": ("So.", "Shown twice without.")}
    ]
    assert everything(story.school) == spoilt
    rebuilt(story.school)


def test_a_ledger_that_does_not_hold_rebuilds_nothing(story: Story) -> None:
    """The entries are put back by hand, since nothing else can."""
    leaf = "UPDATE ledger_entry SET leaf = {} WHERE seq = 7"
    with story.school.database.read() as session:
        entry = ledger.at(session, 7)
        assert entry is not None
    behind(story.school, leaf.format("prev"), "UPDATE filed_event SET words = 'None.'")
    spoilt = everything(story.school)
    found = rebuilt(story.school)
    assert found.proof.code == 2
    assert everything(story.school) == spoilt
    behind(story.school, leaf.format(f"'{entry.leaf}'"))
    rebuilt(story.school)
    assert everything(story.school) == story.rows


def test_a_missing_account_is_named_and_nothing_changes(story: Story) -> None:
    """Accounts are no projection: whoever lost one restores a backup."""
    people = of_table(story.school, Enrolment)[story.school.enrolment]["student_id"]
    behind(
        story.school,
        f"UPDATE person SET id = 'gone' WHERE id = '{people}'",
        f"DELETE FROM enrolment WHERE id = '{story.school.enrolment}'",
    )
    spoilt = everything(story.school)
    with pytest.raises(LackingError, match="an account or a revision"):
        rebuilt(story.school)
    assert everything(story.school) == spoilt
    behind(story.school, f"UPDATE person SET id = '{people}' WHERE id = 'gone'")
    rebuilt(story.school)
    assert everything(story.school) == story.rows


def test_a_forged_enrolment_that_lessons_refer_to_is_left_and_named(
    either_school: TestSchool,
) -> None:
    tell(either_school)
    forge(either_school, Enrolment, course="another", ended_on=None, ended_how=None)
    behind(
        either_school,
        "UPDATE lesson_record SET enrolment_id = 'forged' WHERE state = 'draft'",
    )
    found = rebuilt(either_school)
    assert [one.name for one in found.left] == ["forged"]
    assert proven(either_school).code == 2


def test_the_trail_keeps_what_was_taken_away(story: Story) -> None:
    forge(story.school, LessonRecord, sequence=999, remarks="Never flown.")
    behind(story.school, "UPDATE teaching SET until = NULL")
    rebuilt(story.school)
    with story.school.database.read() as session:
        query = session.query(AuditEvent).filter_by(action="system:rebuild")
        *_, taken, counted = query.order_by(AuditEvent.id)
    assert taken.object_id == "forged"
    assert taken.facts["removed"]["remarks"] == "Never flown."
    assert counted.facts["put_back"] == {"teaching": 2}
    assert counted.facts["removed"] == 1


def test_the_command_tells_what_it_put_back(
    school: TestSchool, capsys: pytest.CaptureFixture[str]
) -> None:
    data = str(school.settings.data)
    (school.settings.data / "school.key").write_text(SEED.hex())
    record = signed(school, "ben", opened(school, "ben", "s-01"), FLOWN)
    assert main(["rebuild", "--data", data]) == 0
    behind(school, "UPDATE grade SET level = 'perform', rank = 4, meets = true WHERE rank = 2")
    assert main(["verify", "--data", data]) == 2
    assert main(["rebuild", "--data", data, "--dry-run"]) == 2
    assert "to be put back: 1 (lesson_record 1)" in capsys.readouterr().out
    assert main(["rebuild", "--data", data]) == 0
    told = capsys.readouterr()
    assert f"lesson_record {record} differed in grades." in told.err
    assert "put back: 1 (lesson_record 1), removed: 0, left: 0." in told.out
    assert main(["verify", "--data", data]) == 0
    behind(school, "DELETE FROM ledger_entry WHERE seq = 5")
    assert main(["rebuild", "--data", data]) == 3
    assert "nothing was done" in capsys.readouterr().out


def test_nothing_is_rebuilt_from_a_ledger_that_a_checkpoint_outside_contradicts(
    school: TestSchool, tmp_path: Path
) -> None:
    data, away = str(school.settings.data), tmp_path / "away.note"
    (school.settings.data / "school.key").write_text(SEED.hex())
    with school.database.read() as session:
        line = schoolkeys.succession(session)
    other = notes.sign_note(Checkpoint(line.origin, 3, bytes(32)).text(), line.origin, SEED)
    signed(school, "ben", opened(school, "ben", "s-01"), FLOWN)
    behind(school, "UPDATE grade SET level = 'perform', rank = 4, meets = true WHERE rank = 2")
    before = everything(school)
    away.write_text(other)
    assert main(["rebuild", "--data", data, "--checkpoint", str(away)]) == 3
    away.write_text("a shopping list")
    assert main(["rebuild", "--data", data, "--checkpoint", str(away)]) == 4
    checkpoints.keep(other, 3, checkpoints.folders(school.settings.data))
    assert main(["rebuild", "--data", data]) == 3
    assert everything(school) == before


def test_lessons_go_on_after_rebuilding(either_school: TestSchool) -> None:
    signed(either_school, "ben", opened(either_school, "ben", "s-01"), FLOWN)
    behind(either_school, "DELETE FROM reading_taken", "DELETE FROM needle_state")
    rebuilt(either_school)
    signed(either_school, "ben", opened(either_school, "ben", "s-02"), MET)
    assert proven(either_school).findings == []
