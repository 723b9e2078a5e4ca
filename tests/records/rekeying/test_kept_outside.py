"""Backups and checkpoints from before a change of the school's key are judged by place."""

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from gradebook.records import checkpoints
from gradebook.records.database import Database, open_engine
from gradebook.records.keeping import backup
from gradebook.settings import NEXT_KEY, SCHOOL_KEY
from tests.cast import SEED, TestSchool, close_school
from tests.records.keeping.test_drill import checkpoint
from tests.records.keeping.test_forged import taken_apart
from tests.records.rekeying.machine import Run, size, use_new_key
from tests.walks.test_main_job import sign_first_lesson

WHY = ("--why", "A disk was stolen.")


def back_up(school: TestSchool) -> Path:
    """A backup signed by the key the school's acts are witnessed by, the newest one."""
    school.clock.pass_minutes(1)
    folder = backup.folder_in(school.settings.data)
    return backup.back_up(school.settings, school.database, backup.Wanted(folder))


def only(*files: Path) -> None:
    """Leave no other backup in the folder."""
    for path in files[0].parent.iterdir():
        if path not in files:
            path.unlink()


def test_a_backup_from_before_rotations_is_drilled(
    either_school: TestSchool, either_run: Run
) -> None:
    old = back_up(either_school)
    assert either_run("key rotate") == 0
    use_new_key(either_school)
    between = back_up(either_school)
    assert either_run("key rotate") == 0
    assert either_run("drill") == 0
    only(old)
    assert either_run("drill") == 0
    assert between != old


def test_a_backup_by_nobody_s_key_or_out_of_its_time_is_refused(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    forgery = taken_apart(back_up(school))
    forgery.sign(bytes(32))
    file = backup.backups_in(backup.folder_in(school.settings.data))[0]
    forgery.pack(file)
    assert run("drill") == 1
    assert "no key that this school had then" in capsys.readouterr().err
    only(file)
    file.unlink()
    assert run("key rotate") == 0
    sign_first_lesson(school)
    assert school.settings.seed == SEED
    back_up(school)  # by the key that gave way, over entries after the change
    assert run("drill") == 1
    assert "no key that this school had then" in capsys.readouterr().err


def test_a_compromised_key_s_backups_are_taken_up_to_its_good_size(
    either_school: TestSchool, either_run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    good, before = size(either_school), back_up(either_school)
    sign_first_lesson(either_school)
    beyond = back_up(either_school)
    assert either_run("key compromised", "--good-size", good, *WHY) == 0
    assert either_run("drill") == 1
    assert "compromised, beyond its good size" in capsys.readouterr().err
    beyond.unlink()
    assert either_run("drill") == 0
    assert before.exists()


def test_a_backup_of_another_ledger_by_the_school_s_own_key_is_found(
    school: TestSchool, run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A thief with the key can sign whatever they like, but not the ledger the school has."""
    copied = tmp_path / "thief.db"
    school.database.engine.dispose()
    shutil.copy(tmp_path / "windtee.db", copied)
    other = Database(open_engine(f"sqlite:///{copied}"))
    theirs = replace(school, database=other)
    checkpoint(theirs)
    made = back_up(theirs)
    other.engine.dispose()
    sign_first_lesson(school)
    assert run("key rotate") == 0
    assert run("drill") == 3
    assert "not the beginning of the school's" in capsys.readouterr().err
    assert made.exists()


def rolled_back(school: TestSchool, run: Run) -> None:
    """The key is changed, checkpoints leave the building, the old database comes back."""
    data, aside = school.settings.data, school.settings.data / "aside"
    close_school(school)
    shutil.copy(data / "windtee.db", aside)
    assert run("key rotate") == 0
    sign_first_lesson(school)
    assert run("checkpoint") == 0
    close_school(school)
    for file in data.glob("windtee.db*"):
        file.unlink()
    aside.rename(data / "windtee.db")


def notes_of(school: TestSchool) -> list[Path]:
    """The checkpoints kept outside the database, the shortest ledger first."""
    return checkpoints.files_in(*checkpoints.folders(school.settings.data))


def test_a_ledger_from_before_a_rotation_is_torn(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    checkpoint(school)
    rolled_back(school, run)
    assert run("verify") == 3
    told = capsys.readouterr()
    assert "are missing" in told.err  # by the note at the change, which the old key signed too
    assert "older than the change to that key" in told.err
    assert run("checkpoint") != 0
    assert run("key rotate") != 0
    assert run("serve", "--port", "8140") == 1
    assert "the database that is too old" in capsys.readouterr().err


def test_the_newest_checkpoint_alone_shows_it(school: TestSchool, run: Run) -> None:
    rolled_back(school, run)
    *older, last = notes_of(school)
    for path in older:
        path.unlink()
    assert run("verify") == 3
    assert run("verify", "--checkpoint", last) == 3


def test_with_the_old_key_on_the_disk_the_note_at_the_change_shows_it(
    school: TestSchool, run: Run
) -> None:
    rolled_back(school, run)
    (school.settings.data / SCHOOL_KEY).write_text(SEED.hex())
    assert not (school.settings.data / NEXT_KEY).exists()
    assert run("verify") == 3


def test_a_checkpoint_of_nobody_known_is_an_unknown_key(
    school: TestSchool, run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    """One file among the checkpoints does not keep the others from being compared."""
    checkpoint(school)
    assert run("checkpoint") == 0
    path = notes_of(school)[-1]
    strange = path.with_name("000000000900.note")
    strange.write_text(path.read_text().replace(str(size(school)), "900"))
    assert run("verify") == 4
    assert strange.name in capsys.readouterr().err
    strange.unlink()
    assert run("verify") == 0
