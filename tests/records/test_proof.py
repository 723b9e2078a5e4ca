"""Reading everything: what is found in ledger, trail and rows, and by which code."""

import json
from collections import Counter

import pytest
from sqlalchemy import func, select

from gradebook.ledger import keys, notes
from gradebook.ledger.chain import ALTERED, CUT, UNKNOWN_KEY
from gradebook.ledger.notes import Checkpoint
from gradebook.records.commands import checkpointing, founding
from gradebook.records.pen import house_of
from gradebook.records.store import people, proof, schoolkeys
from gradebook.records.store.proof import Proof
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.lessons import LessonRecord
from tests.cast import SEED, TestSchool
from tests.erasing.gone import agreed, erase, leave_traces, sign_for_hal
from tests.records.keeping.test_drill import checkpoint, unguarded
from tests.records.rekeying.machine import Run, runner
from tests.walks.test_main_job import sign_first_lesson

LAST_EVENT = "(SELECT max(id) FROM audit_event)"


@pytest.fixture
def run(school: TestSchool, monkeypatch: pytest.MonkeyPatch) -> Run:
    """`windtee ...` in the school's folder."""
    return runner(school, monkeypatch)


def proved(school: TestSchool, *outside: Checkpoint) -> Proof:
    with school.database.read() as session:
        row = people.school(session)
        assert row is not None
        return proof.prove(session, row.vkey, outside)


def told(found: Proof) -> list[tuple[int, str]]:
    return [(one.code, one.words) for one in found.findings]


def say(school: TestSchool, kind: str, body: dict[str, object]) -> int:
    """Somebody with the school's key enters this; the entry's number."""
    with school.database.write() as session:
        act = founding.server_act(session, SEED, school.clock.at)
        return act.state(kind, None, body).seq


def test_of_a_sound_school_all_is_counted(school: TestSchool) -> None:
    sign_first_lesson(school)
    size, _ = checkpoint(school)
    seen = list[tuple[str, int, int]]()
    with school.database.read() as session:
        row = people.school(session)
        assert row is not None
        found = proof.prove(session, row.vkey, (), lambda *at: seen.append(at))
        events = session.scalar(select(func.count()).select_from(AuditEvent))
        rows = session.scalar(select(func.count()).select_from(LessonRecord))
    assert (found.size, found.events, found.checkpoints, found.code) == (size, events, 1, 0)
    assert found.rows > rows
    assert ("entries", size, size) in seen
    assert ("events", events - 1, events) in seen


def test_a_checkpoint_in_the_database_that_nobody_signed_is_told(school: TestSchool) -> None:
    size, _ = checkpoint(school)
    assert told(proved(school)) == []
    unguarded(school, "UPDATE ledger_checkpoint SET note = replace(note, '\u2014', '-')")
    ((code, words),) = told(proved(school))
    assert code == ALTERED
    assert f"The checkpoint over {size} entries is not ours" in words


def test_another_whole_ledger_than_the_checkpoint_s_is_torn_an_altered_one_altered(
    school: TestSchool,
) -> None:
    sign_first_lesson(school)
    outside = Checkpoint("", 7, bytes(32))
    assert [code for code, _ in told(proved(school, outside))] == [CUT]
    unguarded(school, "UPDATE ledger_entry SET leaf = prev WHERE seq = 5")
    codes = {one.seq: one.code for one in proved(school, outside).findings}
    assert codes[7] == ALTERED
    assert CUT not in codes.values()


def test_an_erased_entry_that_is_filed_under_a_student_is_told(school: TestSchool) -> None:
    leave_traces(school)
    erase(school, agreed(school))
    assert told(proved(school)) == []
    unguarded(
        school,
        "UPDATE ledger_entry SET kind = 'record.sign' WHERE seq ="
        " (SELECT max(seq) FROM ledger_entry WHERE kind = 'erased')",
    )
    assert [
        "yet it is filed under something" in words for _, words in told(proved(school))
    ] == [True]


def test_an_erased_act_that_says_something_again_is_told(school: TestSchool) -> None:
    leave_traces(school)
    erase(school, agreed(school))
    unguarded(
        school,
        "UPDATE audit_event SET object_id = 'ana' WHERE id ="
        " (SELECT max(id) FROM audit_event WHERE action = 'erased')",
    )
    ((code, words),) = told(proved(school))
    assert code == ALTERED
    assert "is not what was written" in words


def test_an_act_cut_off_the_end_of_the_trail_is_told(school: TestSchool, run: Run) -> None:
    """A change of keys fixes the trail too, with its own act in it."""
    assert run("key rotate") == 0
    assert told(proved(school)) == []
    unguarded(
        school,
        f"DELETE FROM audit_node WHERE event_id = {LAST_EVENT}",  # noqa: S608 - our own
        f"DELETE FROM audit_event WHERE id = {LAST_EVENT}",  # noqa: S608 - our own
    )
    ((code, words),) = told(proved(school))
    assert code == CUT
    assert "audit events, but only" in words


def test_an_act_written_beside_the_trail_is_told(school: TestSchool) -> None:
    checkpoint(school)
    sign_first_lesson(school)
    unguarded(
        school,
        "INSERT INTO audit_event (at, action, facts)"
        " SELECT at, action, facts FROM audit_event LIMIT 1",
    )
    ((code, words),) = told(proved(school))
    assert code == ALTERED
    assert words == "1 audit events stand outside the trail's tree."


def test_a_trail_whose_mark_is_another_is_told(school: TestSchool) -> None:
    with school.database.write() as session:
        checkpointing.mark_audit(session, house_of(SEED), school.clock.at)
    assert told(proved(school)) == []
    say(school, "audit.mark", {"events": 1, "root": "00" * 32})
    sign_first_lesson(school)
    assert [code for code, _ in told(proved(school))] == [ALTERED]


def test_a_row_that_was_taken_away_is_told(school: TestSchool) -> None:
    unguarded(school, "DELETE FROM role_grant WHERE role = 'auditor'")
    ((code, words),) = told(proved(school))
    assert code == ALTERED
    assert words.endswith("the row it made is not there any more.")


BADLY: dict[str, dict[str, object]] = {
    "that cannot be read": {"kid": 7},
    "that nobody vouches for": {
        "kid": keys.kid(keys.public_of(bytes(32))),
        "public": keys.public_of(bytes(32)).hex(),
        "holder": "school",
        "name": "Test school",
        "follows": keys.kid(keys.public_of(SEED)),
        "proof": "00" * 64,
    },
}


@pytest.mark.parametrize("how", BADLY)
def test_a_change_of_keys_that_does_not_hold_changes_none_and_is_told(
    school: TestSchool, how: str
) -> None:
    seq = say(school, "key.rotate", BADLY[how])
    with school.database.read() as session:
        line = schoolkeys.succession(session)
    assert [one.until for one in line.keys] == [None]
    assert [(one.code, one.seq) for one in proved(school).findings] == [(UNKNOWN_KEY, seq)]


def test_a_change_of_keys_that_does_not_hold_bars_no_later_one(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    seq = say(school, "key.rotate", BADLY["that nobody vouches for"])
    assert run("key rotate") == 0
    assert run("key show") == 0
    assert "Earlier key: " in capsys.readouterr().out
    assert [(one.code, one.seq) for one in proved(school).findings] == [(UNKNOWN_KEY, seq)]


def test_an_entry_made_an_unreadable_change_of_keys_hides_no_later_one(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("key rotate") == 0
    change = "UPDATE ledger_entry SET kind = 'key.rotate', statement = '[]' WHERE seq = 5"
    unguarded(school, change)
    assert run("key show") == 0
    assert "Earlier key: " in capsys.readouterr().out
    assert {(one.code, one.seq) for one in proved(school).findings} >= {(ALTERED, 5)}


@pytest.mark.parametrize("kind", ["school.open", "key.rotate"])
def test_a_change_of_keys_that_is_no_statement_is_passed_over_and_told(
    school: TestSchool, run: Run, kind: str
) -> None:
    assert run("key rotate") == 0
    unguarded(school, f"UPDATE ledger_entry SET statement = '[]' WHERE kind = '{kind}'")  # noqa: S608 - our own
    with school.database.read() as session:
        line = schoolkeys.succession(session)
    assert len(line.keys) == (1 if kind == "key.rotate" else 0)
    assert ALTERED in {one.code for one in proved(school).findings}


def test_a_change_of_keys_signed_by_nobody_known_is_passed_over(
    school: TestSchool, run: Run
) -> None:
    """Whoever owns the database writes a change to a key of theirs over the school's own."""
    assert run("key rotate") == 0
    mine = bytes(range(32, 64))
    with school.database.read() as session:
        (row,) = schoolkeys.changes(session)
        entry, said = json.loads(row.entry), json.loads(row.statement)
        seq, old = row.seq, said["body"]["follows"]
    public = keys.public_of(mine)
    kid = keys.kid(public)
    word = keys.sign_succession(mine, old, kid, entry["prev"]).hex()
    said["body"] |= {"kid": kid, "public": public.hex(), "proof": word}
    text = json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    unguarded(school, f"UPDATE ledger_entry SET statement = '{text}' WHERE seq = {seq}")  # noqa: S608 - our own
    with school.database.read() as session:
        line = schoolkeys.succession(session)
    assert [one.public for one in line.keys] == [keys.public_of(SEED)]


def test_a_key_that_was_never_the_school_s_is_not_trusted(school: TestSchool) -> None:
    with school.database.read() as session:
        row = people.school(session)
        assert row is not None
        other = notes.verifier_key(row.origin, keys.public_of(bytes(32)))
        found = proof.prove(session, other)
    assert told(found) == [
        (UNKNOWN_KEY, "The ledger is under another key than the one trusted.")
    ]


def test_what_a_lost_key_signed_beyond_its_good_size_vouches_for_nothing(
    school: TestSchool, run: Run
) -> None:
    size, _ = checkpoint(school)
    with school.database.read() as session:
        row = people.school(session)
        assert row is not None
        old = row.vkey
    assert run("key compromised", "--good-size", size - 1, "--why", "A stolen disk.") == 0
    assert [(one.code, one.seq) for one in proved(school).findings] == [(UNKNOWN_KEY, size)]
    with school.database.read() as session:
        words = told(proof.prove(session, old))[-1][1]
    assert words.startswith("The key trusted was compromised")


def test_of_many_findings_some_are_told_and_all_are_counted(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    for _ in range(60):
        say(school, "audit.mark", {"events": 0, "root": ""})
    unguarded(school, "UPDATE ledger_entry SET leaf = prev WHERE kind = 'audit.mark'")
    assert run("verify") == 2
    err = capsys.readouterr().err
    assert err.count("its hashes in the tree are wrong") == 50
    assert "... and 10 more." in err


def test_a_checkpoint_is_compared_alone_where_it_is_named(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    data = school.settings.data
    file = data / "held.note"
    size, note = checkpoint(school)
    file.write_text(note)
    assert run("verify", "--checkpoint", file) == 0
    assert "1 checkpoints compared" in capsys.readouterr().out
    assert run("key compromised", "--good-size", size - 1, "--why", "A stolen disk.") == 0
    assert run("verify", "--checkpoint", file) == 4
    assert "not in force then" in capsys.readouterr().err
    strange = notes.sign_note(note.rpartition("\n\n")[0] + "\n", "elsewhere", bytes(32))
    file.write_text(strange)
    assert run("verify", "--checkpoint", file) == 4


SHOWN = {
    "acknowledged": "UPDATE lesson_record"
    " SET state = 'acknowledged', acknowledged_at = signed_at, agrees = 1",
    "void": "UPDATE lesson_record SET state = 'void', voided_at = signed_at",
}


@pytest.mark.parametrize("state", SHOWN)
def test_a_state_that_is_no_older_one_is_altered_and_not_superseded(
    school: TestSchool, state: str
) -> None:
    sign_first_lesson(school)
    unguarded(school, SHOWN[state])
    said = f"shown as {state}, but by the ledger it is signed"
    assert [code for code, words in told(proved(school)) if said in words] == [ALTERED]


def test_what_is_signed_while_all_is_read_is_no_finding(either_school: TestSchool) -> None:
    school = either_school
    sign_first_lesson(school)
    size, told_of = proved(school).size, Counter[str]()

    def sign_another(what: str, *_: int) -> None:
        told_of[what] += 1
        if told_of.total() == 1:
            sign_for_hal(school)

    with school.database.read() as session:
        row = people.school(session)
        assert row is not None
        found = proof.prove(session, row.vkey, (), sign_another)
    assert told(found) == []
    assert found.size == size
    later = proved(school)
    assert told(later) == []
    assert later.size > size
