"""The school's key is changed on the machine; records convince strangers before and after."""

import json

import pytest
from sqlalchemy import select

from gradebook.ledger import keys, notes
from gradebook.ledger.bundle import fingerprint, verify_bundle
from gradebook.ledger.chain import ALTERED
from gradebook.records import checkpoints
from gradebook.records.commands import checkpointing, founding
from gradebook.records.faults import BusyError
from gradebook.records.pen import house_of
from gradebook.records.store import proof, schoolkeys
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import LedgerEntry, SigningKey
from gradebook.settings import NEXT_KEY, SCHOOL_KEY
from tests.cast import SEED, TestSchool
from tests.copies.paper_trail import certify, fly
from tests.records.keeping.test_drill import unguarded
from tests.records.rekeying.machine import Run, cut_off, held, kid, size, use_new_key, vkey
from tests.walks.test_main_job import sign_first_lesson


def test_after_a_rotation_old_and_new_fingerprint_verify(
    either_school: TestSchool, either_run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    school = either_school
    fly(school, "s-01")
    before = certify(school)
    old = fingerprint(vkey(school))
    assert either_run("key rotate") == 0
    told = capsys.readouterr().out
    new = fingerprint(vkey(school))
    assert new in told
    assert new != old
    assert either_run("verify") == 0
    assert f"Earlier key: {old}" in capsys.readouterr().out
    use_new_key(school)
    after = certify(school)
    assert json.loads(after)["vkey"] == vkey(school)
    assert [verify_bundle(after, one).code for one in (old, new)] == [0, 0]
    assert [verify_bundle(before, one).code for one in (old, new)] == [0, 4]
    public = notes.read_verifier_key(vkey(school))[2]
    assert keys.public_of(held(school)) == public
    assert not (school.settings.data / NEXT_KEY).exists()
    assert either_run("verify", "--key", old) == 0
    assert either_run("verify", "--key", "0" * 32) == 4


def test_the_checkpoint_at_the_change_is_signed_by_both_and_shown_apart(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    old = vkey(school)
    assert run("key rotate") == 0
    folder = school.settings.data / checkpoints.FOLDER
    note = sorted(folder.glob("*.note"))[-1].read_text()
    assert capsys.readouterr().out.endswith(f"\n\n{note}")
    opened = [notes.open_note(note, one) for one in (old, vkey(school))]
    assert opened[0] == opened[1]
    assert notes.read_checkpoint(opened[0]).size == size(school)


def test_a_change_is_in_ledger_and_trail_and_shown(school: TestSchool, run: Run) -> None:
    old, before = fingerprint(vkey(school)), kid(school)
    assert run("key rotate") == 0
    with school.database.read() as session:
        query = select(AuditEvent).where(AuditEvent.action == "system:key-rotate")
        (noted,) = session.scalars(query)
    assert noted.facts == {"key": kid(school), "follows": before}
    for who in ("cleo", "gus"):
        page = school.visitor(who).get("/ledger")
        assert old in page
        assert fingerprint(vkey(school)) in page
        assert "gave way in order" in page
        assert "1 key before it" in school.visitor(who).get("/installation")


def test_the_old_key_signs_nothing_for_the_school_any_more(
    school: TestSchool, run: Run
) -> None:
    assert run("key rotate") == 0
    with pytest.raises(BusyError), school.database.write() as session:
        founding.server_act(session, SEED, school.clock.at).state("audit.mark", None, {})
    assert run("verify") == 0


def test_rotation_wants_the_key_in_force(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    (school.settings.data / SCHOOL_KEY).write_text("ab" * 32)
    before = size(school)
    assert run("key rotate") == 2
    assert "not the one in force" in capsys.readouterr().err
    assert size(school) == before
    assert run("key show") == 4


def test_a_change_cut_off_before_the_file_was_replaced_is_finished(
    school: TestSchool, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    cut_off(run, monkeypatch)
    assert held(school) == SEED
    after = size(school)
    assert run("key rotate") == 0
    assert size(school) == after
    assert keys.public_of(held(school)) == notes.read_verifier_key(vkey(school))[2]
    assert run("verify") == 0


def test_a_compromise_with_everything_good_leaves_all_as_it_is(
    school: TestSchool, run: Run
) -> None:
    fly(school, "s-01")
    before, old = certify(school), fingerprint(vkey(school))
    words = ("--good-size", size(school), "--why", "A disk was stolen.")
    assert run("key compromised", *words) == 0
    assert run("verify") == 0
    assert run("verify", "--key", old) == 4
    use_new_key(school)
    after, new = certify(school), fingerprint(vkey(school))
    assert [verify_bundle(after, one).code for one in (old, new)] == [4, 0]
    assert verify_bundle(before, old).code == 0
    assert "compromised: entry" in school.visitor("gus").get("/ledger")


def test_what_the_stolen_key_signed_beyond_the_good_size_is_unknown(
    either_school: TestSchool, either_run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    school = either_school
    good = size(school)
    fly(school, "s-01")
    with school.database.write() as session:  # somebody with the key marks the trail
        forged = checkpointing.mark_audit(session, house_of(SEED), school.clock.at)
    words = ("--good-size", good, "--why", "A disk was stolen.")
    assert either_run("key compromised", "--dry-run", *words) == 0
    assert str(forged) in capsys.readouterr().out
    assert (school.settings.data / NEXT_KEY).exists() is False
    assert either_run("key compromised", *words) == 0
    assert either_run("verify") == 4
    assert f"Entry {forged}: signed by a key that was compromised" in capsys.readouterr().err


def test_people_introduced_beyond_the_good_size_get_new_keys(
    either_school: TestSchool, either_run: Run
) -> None:
    words = ("--good-size", "1", "--why", "Nobody knows since when.")
    assert either_run("key compromised", *words) == 0
    with either_school.database.read() as session:
        assert all(session.scalars(select(SigningKey.revoked_at)))
    either_school.visitor("ben").get("/")
    with either_school.database.read() as session:
        fresh = session.scalars(select(SigningKey).where(SigningKey.revoked_at.is_(None)))
        assert [row.person_id for row in fresh] == [either_school.ids["ben"]]
    sign_first_lesson(either_school)


@pytest.mark.parametrize("lost", [True, False])
def test_a_lost_key_is_replaced_without_it(school: TestSchool, run: Run, *, lost: bool) -> None:
    file = school.settings.data / SCHOOL_KEY
    if lost:
        file.unlink()
    words = ("--good-size", size(school), "--why", "The disk failed.")
    assert run("key compromised", *words) == 0
    assert run("key show") == 0
    assert run("verify") == 0


NONSENSE = {
    "beyond the ledger": (lambda made: made + 1, "cannot lie beyond"),
    "before an older rotation": (lambda made: made - 3, "came with entry {made};"),
    "below nothing": (lambda _: -1, "The good size is {made} or more."),
}


@pytest.mark.parametrize("what", NONSENSE)
def test_a_good_size_that_cannot_be_is_refused(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str], what: str
) -> None:
    sign_first_lesson(school)
    assert run("key rotate") == 0
    before, key = size(school), vkey(school)
    make, words = NONSENSE[what]
    assert run("key compromised", "--good-size", make(before), "--why", "x") == 2
    assert words.format(made=before) in capsys.readouterr().err
    assert (size(school), vkey(school)) == (before, key)


def test_a_ledger_older_than_a_checkpoint_outside_changes_no_key(
    school: TestSchool, run: Run
) -> None:
    place = school.settings.data / checkpoints.FOLDER
    text = notes.Checkpoint(vkey(school).partition("+")[0], 900, bytes(32)).text()
    note = notes.sign_note(text, vkey(school).partition("+")[0], SEED)
    checkpoints.keep(note, 900, [place])
    before = size(school)
    assert run("key rotate") == 3
    assert size(school) == before


def test_keys_are_followed_from_the_ledger_alone(school: TestSchool, run: Run) -> None:
    assert run("key rotate") == 0
    assert run("key rotate") == 0
    with school.database.read() as session:
        line = schoolkeys.succession(session)
    assert [one.compromised for one in line.keys] == [False] * 3
    assert line.line_of(line.keys[-1]) == vkey(school)


@pytest.mark.parametrize("kind", ["school.open", "key.rotate"])
def test_a_key_made_unreadable_is_a_finding(school: TestSchool, run: Run, kind: str) -> None:
    """Proving has to say so, whatever stands where a key should."""
    assert run("key rotate") == 0
    with school.database.read() as session:
        row = session.scalars(select(LedgerEntry).where(LedgerEntry.kind == kind)).one()
        seq, public = row.seq, json.loads(row.statement)["body"]["public"]
    unguarded(
        school,
        f"UPDATE ledger_entry SET statement = replace(statement, '{public}', 'z{public[1:]}')"  # noqa: S608 - our own row
        f" WHERE seq = {seq}",
    )
    with school.database.read() as session:
        found = proof.prove(session, vkey(school)).findings
    assert (seq, ALTERED) in {(one.seq, one.code) for one in found}
