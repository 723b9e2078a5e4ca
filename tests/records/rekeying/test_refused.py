"""What a change of the school's key refuses, what it leaves untouched, and what it tells."""

from pathlib import Path

import pytest
from sqlalchemy import select

from gradebook.cli import main
from gradebook.ledger import notes
from gradebook.records import checkpoints
from gradebook.records.commands import checkpointing
from gradebook.records.pen import house_of
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import SigningKey
from gradebook.settings import NEXT_KEY
from tests.cast import SEED, TestSchool, new_school
from tests.copies.paper_trail import fly
from tests.records.rekeying.machine import Run, held, kid, size, use_new_key, vkey

WHY = ("--why", "A disk was stolen.")


def keep(school: TestSchool, covered: int, seed: bytes = SEED) -> Path:
    """Put a checkpoint of another past among those kept outside."""
    origin = vkey(school).partition("+")[0]
    text = notes.Checkpoint(origin, covered, bytes(32)).text()
    place = school.settings.data / checkpoints.FOLDER
    checkpoints.keep(notes.sign_note(text, origin, seed), covered, [place])
    return place / f"{covered:012d}.note"


def changes(school: TestSchool) -> list[tuple[str, ...]]:
    """Both ways to change the key."""
    return [("key rotate",), ("key compromised", "--good-size", str(size(school)), *WHY)]


def unchanged(school: TestSchool, before: tuple[int, str]) -> bool:
    return (size(school), vkey(school)) == before and held(school) == SEED


def test_another_past_than_the_one_kept_changes_no_key(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    before = size(school), vkey(school)
    keep(school, 3)
    for words in (*changes(school), ("checkpoint",)):
        assert run(*words) == 3
        assert "are not those of the checkpoint kept" in capsys.readouterr().err
        assert unchanged(school, before)


def test_a_checkpoint_right_at_the_good_size_has_to_fit_too(
    school: TestSchool, run: Run
) -> None:
    before = size(school), vkey(school)
    keep(school, size(school))
    assert run("key compromised", "--good-size", size(school), *WHY) == 3
    assert unchanged(school, before)


def test_a_stranger_s_checkpoint_changes_no_key(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    before = size(school), vkey(school)
    keep(school, 3, bytes(32))
    for words in (*changes(school), ("checkpoint",)):
        assert run(*words) == 4
        assert "not signed by a key of this school" in capsys.readouterr().err
        assert unchanged(school, before)


def test_what_the_lost_key_signed_beyond_the_good_size_stops_no_compromise(
    school: TestSchool, run: Run
) -> None:
    keep(school, size(school) + 7)
    assert run("key rotate") == 3
    assert run("key compromised", "--good-size", size(school), *WHY) == 0
    assert run("verify") == 0
    use_new_key(school)
    school.visitor("gus").get("/audit?prove=1")


def test_a_key_may_be_disowned_from_its_first_entry_on(school: TestSchool, run: Run) -> None:
    assert run("key rotate") == 0
    since = size(school)
    assert run("key compromised", "--good-size", since - 1, *WHY) == 2
    assert run("key compromised", "--good-size", since, *WHY) == 0
    assert run("verify") == 0


def test_without_a_school_there_is_no_key_to_change(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    new_school(tmp_path)
    data = ("--data", str(tmp_path))
    for act in ("key show", "key rotate", "checkpoint", "verify"):
        assert main([*act.split(), *data]) == 5
        assert "no school with a ledger" in capsys.readouterr().err
    assert main(["key", "compromised", "--good-size", "1", *WHY, *data]) == 5
    assert not (tmp_path / NEXT_KEY).exists()


def test_a_compromise_is_on_the_trail_and_ends_what_it_must(
    school: TestSchool, run: Run
) -> None:
    good, before = size(school), kid(school)
    fly(school, "s-01")
    ben = school.visitor("ben")
    ben.get("/")
    with school.database.write() as session:
        checkpointing.mark_audit(session, house_of(SEED), school.clock.at)
    assert run("key compromised", "--good-size", good, *WHY) == 0
    with school.database.read() as session:
        (noted,) = session.scalars(
            select(AuditEvent).where(AuditEvent.action == "system:key-compromised")
        )
        ended = session.scalars(select(SigningKey.revoked_at)).all()
    assert noted.facts == {
        "key": kid(school),
        "follows": before,
        "good_size": good,
        "why": "A disk was stolen.",
        "disowned": 1,
    }
    assert not any(ended)
    use_new_key(school)
    assert "Sign in" not in ben.get("/")


def test_who_got_a_key_from_the_lost_one_is_signed_out(school: TestSchool, run: Run) -> None:
    ben = school.visitor("ben")
    ben.get("/")
    assert run("key compromised", "--good-size", "1", *WHY) == 0
    assert "Sign in" in ben.get("/")


def test_a_long_list_of_what_is_disowned_is_cut_short(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    good = size(school)
    with school.database.write() as session:
        for _ in range(22):
            checkpointing.mark_audit(session, house_of(SEED), school.clock.at)
    for known, cut in enumerate((" and 2 more.", " and 1 more.", ".")):
        words = ("--good-size", good + known, *WHY, "--dry-run")
        assert run("key compromised", *words) == 0
        told = capsys.readouterr().out
        assert f", {good + 20 + known}{cut}\n" in told
        assert "keys of people end" not in told
    assert run("key compromised", "--good-size", "1", *WHY, "--dry-run") == 0
    assert "8 keys of people end with them" in capsys.readouterr().out
    assert run("key compromised", "--good-size", good + 22, *WHY, "--dry-run") == 0
    assert "No entry beyond the good size" in capsys.readouterr().out
