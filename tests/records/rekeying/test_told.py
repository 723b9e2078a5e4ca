"""What the commands about the school's key tell whoever types them."""

from pathlib import Path

import pytest
from sqlalchemy import select

from gradebook.cli import main
from gradebook.ledger.bundle import fingerprint
from gradebook.ledger.succession import ROTATE
from gradebook.records.commands import checkpointing
from gradebook.records.pen import house_of
from gradebook.records.tables.ledger import LedgerEntry
from gradebook.settings import NEXT_KEY, SCHOOL_KEY
from tests.cast import SEED, TestSchool
from tests.copies.paper_trail import fly
from tests.records.rekeying.machine import Run, cut_off, held, size, vkey


def test_the_key_in_force_is_shown_with_the_entry_it_signs_from(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("key show") == 0
    assert f"Key {fingerprint(vkey(school))}, in force from entry 1 on." in told(capsys)
    fly(school, "s-01")
    first = fingerprint(vkey(school))
    assert run("key rotate") == 0
    capsys.readouterr()
    assert run("key show") == 0
    now, earlier = told(capsys)
    assert f"Earlier key: {first}, for entries 1 to " in earlier
    followed = int(earlier.rpartition(" ")[2])
    with school.database.read() as session:
        changes = select(LedgerEntry.seq).where(LedgerEntry.kind == ROTATE)
        assert session.scalars(changes).all() == [followed]
    assert now == f"Key {fingerprint(vkey(school))}, in force from entry {followed + 1} on."


def told(capsys: pytest.CaptureFixture[str]) -> list[str]:
    """The lines a command printed."""
    return capsys.readouterr().out.splitlines()


def test_a_dry_run_names_what_would_be_disowned_and_changes_nothing(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    fly(school, "s-01")
    good = size(school)
    with school.database.write() as session:  # somebody with the key marks the trail
        marks = [
            checkpointing.mark_audit(session, house_of(SEED), school.clock.at) for _ in range(3)
        ]
    before = size(school), vkey(school), held(school)
    words = ("--good-size", good, "--why", "A disk was stolen.", "--dry-run")
    assert run("key compromised", *words) == 0
    said = capsys.readouterr().out
    assert f"believed no more: {', '.join(map(str, marks))}." in said
    assert (size(school), vkey(school), held(school)) == before
    assert not (school.settings.data / NEXT_KEY).exists()
    assert run("verify") == 0


def test_a_change_that_was_cut_off_says_which_key_it_finished_with(
    school: TestSchool,
    run: Run,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    cut_off(run, monkeypatch)
    assert run("key rotate") == 0
    finished = told(capsys)
    assert "The change that was cut off is finished." in finished
    assert f"Key {fingerprint(vkey(school))}" in finished
    assert not (school.settings.data / NEXT_KEY).exists()


def test_a_compromise_without_a_reason_is_refused_and_changes_nothing(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    before = size(school), vkey(school), held(school)
    assert run("key compromised", "--good-size", size(school), "--why", " ") == 2
    assert "what happened" in capsys.readouterr().err
    assert (size(school), vkey(school), held(school)) == before


def test_a_checkpoint_lands_in_the_folder_that_was_named_be_it_there_or_not(
    school: TestSchool, run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fly(school, "s-01")
    away = tmp_path / "elsewhere" / "for keeps"
    assert run("checkpoint", "--to", away) == 0
    (note,) = away.glob("*.note")
    assert note.read_text().rstrip() == capsys.readouterr().out.rstrip()
    assert run("verify", "--checkpoint", note) == 0


UNSAID = {
    "what to do with the key": ("key", "ACT"),
    "how much is good": ("key compromised --why x", "--good-size"),
    "what happened": ("key compromised --good-size 1", "--why"),
}


@pytest.mark.parametrize("what", UNSAID)
def test_what_a_change_of_keys_has_to_be_told_is_asked_for(
    capsys: pytest.CaptureFixture[str], what: str
) -> None:
    words, missing = UNSAID[what]
    with pytest.raises(SystemExit) as ended:
        main(words.split())
    assert ended.value.code == 2
    assert f"the following arguments are required: {missing}" in capsys.readouterr().err


def test_a_key_on_the_disk_that_is_not_in_force_is_warned_of(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("key show") == 0
    assert capsys.readouterr().err == ""
    (school.settings.data / SCHOOL_KEY).write_text("ab" * 32)
    assert run("key show") == 4
    seen = capsys.readouterr()
    assert "school.key in this folder is another one" in seen.err
    assert fingerprint(vkey(school)) in seen.out
