"""Whatever is done to the rows behind the guards is found, and put back as it was signed."""

import pytest

from gradebook.records.mirrors import PARTS
from gradebook.records.rebuilding import FIRST
from gradebook.records.tables import Table
from gradebook.records.tables.lessons import Grade, LessonRecord
from gradebook.records.tables.training import Enrolment, StageApproval
from tests.records.rebuilding.behind import (
    HANGING,
    behind,
    everything,
    forge,
    of_table,
    proven,
    rebuilt,
)
from tests.records.rebuilding.conftest import Story

SIGNED = "state <> 'draft'"
DOV = "(SELECT id FROM person WHERE email LIKE 'dov@%')"
ALTERED = {
    "a grade": "UPDATE grade SET level = 'perform', rank = 4 WHERE rank = 2",
    "what a grade means": "UPDATE grade SET meets = NOT meets WHERE task = 'hover'",
    "the order of grades": "UPDATE grade SET place = 7 - place",
    "a remark on a grade": "UPDATE grade SET remark = 'Fine.' WHERE remark <> ''",
    "whose grade it is": "UPDATE grade SET together = NOT together",
    "an error": "UPDATE error_mark SET error = 'PF-01' WHERE error = 'PF-04'",
    "how an error was found": "UPDATE error_mark SET found = 'flow' WHERE error = 'RU-03'",
    "a reading": "UPDATE reading_taken SET value = '100' WHERE code = 'left-drop'",
    "a limit kept": "UPDATE reading_taken SET within = NOT within",
    "the card": f"UPDATE lesson_record SET card = '{{}}' WHERE {SIGNED}",
    "the times": f"""UPDATE lesson_record SET times = '{{"dual": 720}}' WHERE {SIGNED}""",
    "the remarks": f"UPDATE lesson_record SET remarks = 'Fine.' WHERE {SIGNED}",
    "the outcome": f"UPDATE lesson_record SET outcome = 'failed' WHERE {SIGNED}",
    "the day": f"UPDATE lesson_record SET flown_on = '2026-01-01' WHERE {SIGNED}",
    "the lesson": f"UPDATE lesson_record SET lesson = 's-03' WHERE {SIGNED}",
    "the student": "UPDATE lesson_record SET enrolment_id = (SELECT id FROM enrolment"
    " WHERE ended_on IS NOT NULL) WHERE state = 'acknowledged'",
    "who taught": f"UPDATE lesson_record SET instructor_id = {DOV} WHERE {SIGNED}",
    "when it was signed": f"UPDATE lesson_record SET signed_at = created_at WHERE {SIGNED}",
    "where it came from": f"UPDATE lesson_record SET origin = 'imported' WHERE {SIGNED}",
    "signed turned draft": "UPDATE lesson_record SET state = 'draft', digest = NULL,"
    " sequence = NULL WHERE state = 'signed'",
    "superseded turned current": "UPDATE lesson_record SET state = 'acknowledged'"
    " WHERE state = 'superseded'",
    "void turned current": "UPDATE lesson_record SET state = 'signed', voided_at = NULL,"
    " void_reason = '' WHERE state = 'void'",
    "current turned void": "UPDATE lesson_record SET state = 'void', voided_at = signed_at,"
    " void_reason = 'Gone.' WHERE state = 'signed'",
    "why it is void": "UPDATE lesson_record SET void_reason = 'Gone.' WHERE state = 'void'",
    "when it was made void": "UPDATE lesson_record SET voided_at = signed_at"
    " WHERE state = 'void'",
    "every place": f"UPDATE lesson_record SET sequence = 1000 - sequence WHERE {SIGNED}",
    "a digest": "UPDATE lesson_record SET digest = (SELECT digest FROM ledger_entry"
    " WHERE seq = 1) WHERE state = 'void'",
    "an answer": "UPDATE lesson_record SET agrees = NOT agrees WHERE agrees IS NOT NULL",
    "a disagreement": "UPDATE lesson_record SET comment = '' WHERE comment <> ''",
    "when it was answered": "UPDATE lesson_record SET acknowledged_at = signed_at"
    " WHERE acknowledged_at IS NOT NULL",
    "an answer taken back": "UPDATE lesson_record SET state = 'signed', agrees = NULL,"
    " acknowledged_at = NULL WHERE state = 'acknowledged'",
    "what it amends": "UPDATE lesson_record SET supersedes_id = NULL"
    " WHERE supersedes_id IS NOT NULL",
    "when training began": "UPDATE enrolment SET enrolled_on = '2020-01-01'",
    "when it was entered": "UPDATE enrolment SET created_at = (SELECT min(seen) FROM"
    " (SELECT voided_at AS seen FROM lesson_record) AS one)",
    "how training ended": "UPDATE enrolment SET ended_on = NULL, ended_how = NULL",
    "who the principal is": "UPDATE teaching SET principal = NOT principal",
    "since when": "UPDATE teaching SET since = until WHERE until IS NOT NULL",
    "until when": "UPDATE teaching SET until = NULL",
    "a medical": "UPDATE filed_event SET expires_on = '2030-01-01'",
    "who filed it": f"UPDATE filed_event SET filed_by = {DOV}",
    "who recommended": f"UPDATE stage_approval SET recommended_by = {DOV}",
    "how ready": """UPDATE stage_approval SET snapshot = '{"ready": true, "missing": []}'""",
    "who approved": "UPDATE stage_approval SET approved_by = checker_id"
    " WHERE checker_id IS NOT NULL",
    "which check it was": "UPDATE stage_approval SET record_id = NULL",
    "an exception": "UPDATE stage_approval SET not_independent = NOT not_independent",
    "why it was approved": "UPDATE stage_approval SET reason = ''",
    "who decided": f"UPDATE close_decision SET decided_by = {DOV}",
    "why it was closed": "UPDATE close_decision SET reason = 'So.'",
    "a role": "UPDATE role_grant SET role = 'administrator' WHERE role = 'student'",
    "a role taken away": "UPDATE role_grant SET revoked_at = NULL",
    "since when a role": "UPDATE role_grant SET granted_at = revoked_at"
    " WHERE revoked_at IS NOT NULL",
}


@pytest.mark.parametrize("what", ALTERED)
def test_what_was_altered_is_found_and_put_back(story: Story, what: str) -> None:
    behind(story.school, ALTERED[what])
    table = ALTERED[what].split()[1]
    table = "lesson_record" if table in HANGING else table
    assert proven(story.school).code == (6 if what.endswith("current") else 2)
    done = rebuilt(story.school)
    assert {one.table.__tablename__ for one in done.put_back} == {table}
    assert (done.removed, done.left) == ([], [])
    assert everything(story.school) == story.rows


def test_places_that_were_swapped_are_put_back(story: Story) -> None:
    one, other = (story.records[name] for name in ("acknowledged", "void"))
    held = of_table(story.school, LessonRecord)
    places = held[one]["sequence"], held[other]["sequence"]
    move = "UPDATE lesson_record SET sequence = {} WHERE id = '{}'"
    behind(
        story.school,
        move.format(-1, one),
        move.format(places[0], other),
        move.format(places[1], one),
    )
    assert len(rebuilt(story.school).put_back) == 2
    assert everything(story.school) == story.rows


def test_students_that_were_swapped_are_put_back(story: Story) -> None:
    one, other = story.school.enrolment, story.school.stranger_enrolment
    held = of_table(story.school, Enrolment)
    move = "UPDATE enrolment SET student_id = '{}' WHERE id = '{}'"
    behind(
        story.school,
        "UPDATE enrolment SET enrolled_on = '2020-01-01' WHERE id = '" + one + "'",
        move.format(held[other]["student_id"], one),
        move.format(held[one]["student_id"], other),
        f"UPDATE enrolment SET enrolled_on = '{held[other]['enrolled_on']}' WHERE id = '{one}'",
    )
    rebuilt(story.school)
    assert everything(story.school) == story.rows


@pytest.mark.parametrize("table", PARTS, ids=lambda table: table.__tablename__)
def test_what_hung_on_a_record_comes_back(story: Story, table: type[Table]) -> None:
    behind(story.school, f"DELETE FROM {table.__tablename__}")
    assert proven(story.school).code == 2
    rebuilt(story.school)
    assert everything(story.school) == story.rows


TAKEN = [table for table in FIRST if table is not LessonRecord]


@pytest.mark.parametrize("table", TAKEN, ids=lambda table: table.__tablename__)
def test_a_row_taken_away_comes_back(story: Story, table: type[Table]) -> None:
    behind(story.school, f"DELETE FROM {table.__tablename__}")
    assert "not there any more" in proven(story.school).findings[0].words
    done = rebuilt(story.school)
    assert len(done.put_back) == len(story.rows[table.__tablename__])
    assert everything(story.school) == story.rows


@pytest.mark.parametrize("table", FIRST, ids=lambda table: table.__tablename__)
def test_a_forged_row_is_named_and_goes(story: Story, table: type[Table]) -> None:
    changes = {
        "lesson_record": {"sequence": 999},
        "enrolment": {"course": "another"},
        "stage_approval": {"record_id": None},
    }
    forge(story.school, table, **changes.get(table.__tablename__, {}))
    assert "nobody signed this row into being" in proven(story.school).findings[0].words
    done = rebuilt(story.school)
    assert [(one.table, one.name) for one in done.removed] == [(table, "forged")]
    assert everything(story.school) == story.rows


@pytest.mark.parametrize("table", PARTS, ids=lambda table: table.__tablename__)
def test_a_row_forged_onto_a_record_is_named_and_goes(story: Story, table: type[Table]) -> None:
    forge(story.school, table)
    assert proven(story.school).code == 2
    done = rebuilt(story.school)
    assert [(one.table, one.name) for one in done.removed] == [(table, "forged")]
    assert everything(story.school) == story.rows


def test_a_grade_forged_onto_a_draft_goes(story: Story) -> None:
    drafts = of_table(story.school, LessonRecord).values()
    draft = next(row["id"] for row in drafts if row["state"] == "draft")
    forge(story.school, Grade, record_id=draft)
    assert proven(story.school).code == 2
    assert [one.name for one in rebuilt(story.school).removed] == ["forged"]
    assert everything(story.school) == story.rows


def test_a_forged_record_goes_with_its_grades_though_a_check_names_it(story: Story) -> None:
    forge(story.school, LessonRecord, sequence=999)
    forge(story.school, Grade, record_id="forged")
    behind(
        story.school,
        "UPDATE stage_approval SET record_id = 'forged' WHERE record_id IS NOT NULL",
    )
    done = rebuilt(story.school)
    assert {one.table for one in done.removed} == {LessonRecord, Grade}
    assert [one.table for one in done.put_back] == [StageApproval]
    assert everything(story.school) == story.rows
