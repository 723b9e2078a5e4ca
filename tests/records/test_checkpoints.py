"""When the school signs how long its ledger is, what it refuses to sign, and who asks it."""

from pathlib import Path

import pytest

from gradebook.cli import main
from gradebook.ledger import keys, notes
from gradebook.ledger.notes import Checkpoint, NoteError
from gradebook.records import checkpoints
from gradebook.records.commands import checkpointing, founding
from gradebook.records.faults import BusyError, TornError, UnknownError
from gradebook.records.pen import house_of
from gradebook.records.store import ledger, people, schoolkeys
from tests.cast import SEED, TestSchool, new_school
from tests.records.keeping.test_drill import unguarded
from tests.walks.test_main_job import sign_first_lesson

HOUSE = house_of(SEED)
OTHER = bytes(reversed(SEED))
DAY = 60 * 24


def grow(school: TestSchool, number: int) -> bool:
    """Enter so many statements of the server's; whether a checkpoint is due then."""
    with school.database.write() as session:
        act = founding.server_act(session, SEED, school.clock.at)
        for _ in range(number):
            act.state("audit.mark", None, {"events": 0, "root": ""})
        return checkpointing.is_due(session, school.clock.at)


def issued(school: TestSchool, known: Checkpoint | None = None) -> Checkpoint:
    """The checkpoint over the ledger as it is now."""
    with school.database.write() as session:
        row = checkpointing.issue(session, HOUSE, school.clock.at, known)
        return schoolkeys.succession(session).open(row.note)


def files(school: TestSchool) -> list[Path]:
    """The checkpoints that left the building."""
    return checkpoints.files_in(*checkpoints.folders(school.settings.data))


def test_the_first_signature_and_the_first_of_each_day_let_one_out(school: TestSchool) -> None:
    sign_first_lesson(school)
    assert len(files(school)) == 1
    assert not grow(school, 1)
    school.clock.pass_minutes(DAY - 1)
    assert not grow(school, 1)
    school.clock.pass_minutes(1)
    assert grow(school, 1)


def test_who_enters_nothing_lets_none_out(school: TestSchool) -> None:
    issued(school)
    school.clock.pass_days(2)
    assert not grow(school, 0)
    with school.database.write() as session:
        ledger.tip(session)  # somebody looked how long it is
        assert not checkpointing.is_due(session, school.clock.at)


def test_every_hundred_entries_let_one_out(school: TestSchool) -> None:
    size = issued(school).size
    assert not grow(school, 99 - size)
    assert grow(school, 1)
    assert issued(school).size == 101
    assert not grow(school, 98)
    assert grow(school, 1)


def test_a_ledger_that_did_not_grow_is_signed_once(school: TestSchool) -> None:
    first = issued(school)
    assert issued(school, first) == first
    grow(school, 1)
    assert issued(school, first).size == first.size + 2  # with the mark of the trail


def test_another_past_than_the_one_kept_is_not_signed(school: TestSchool) -> None:
    held = issued(school)
    for other in (
        Checkpoint(held.origin, held.size, bytes(32)),
        Checkpoint(held.origin, held.size + 1, held.root),
    ):
        with pytest.raises(TornError):
            issued(school, other)
    grow(school, 1)
    assert issued(school, held).size > held.size


def test_a_school_is_served_with_its_own_key_and_ledger_alone(
    school: TestSchool, tmp_path: Path
) -> None:
    held = issued(school)
    place = tmp_path / "kept"
    with school.database.read() as session:
        assert checkpointing.ready(session, SEED, [place]) is not None
    text = Checkpoint(held.origin, held.size, bytes(32)).text()
    checkpoints.keep(notes.sign_note(text, held.origin, SEED), held.size, [place])
    with school.database.read() as session, pytest.raises(TornError, match="not those"):
        checkpointing.ready(session, SEED, [place])


def test_before_there_is_a_school_nothing_is_asked_of_it(tmp_path: Path) -> None:
    empty = new_school(tmp_path)
    with empty.database.read() as session:
        assert checkpointing.ready(session, SEED, []) is None


def test_a_school_from_before_the_ledger_is_led_to_upgrading(school: TestSchool) -> None:
    unguarded(school, "UPDATE school SET vkey = ''")
    with school.database.read() as session, pytest.raises(TornError, match="windtee upgrade"):
        checkpointing.ready(session, SEED, [])


def test_of_several_places_the_longest_ledger_counts(
    school: TestSchool, tmp_path: Path
) -> None:
    short = issued(school)
    grow(school, 1)
    long = issued(school)
    one, two = tmp_path / "one", tmp_path / "two"
    with school.database.read() as session:
        line = schoolkeys.succession(session)
        for folder, held in ((one, long), (two, short)):
            note = checkpointing.note_over(session, HOUSE, held.size)
            checkpoints.keep(note, held.size, [folder])
    for places in ((one, two), (two, one)):
        assert checkpoints.newest(places, line) == long
    assert checkpoints.newest([tmp_path / "none"], line) is None
    assert not list(one.glob("*.part"))


def test_a_witness_gets_a_proof_of_each_size_that_can_be(school: TestSchool) -> None:
    size = issued(school).size
    with school.database.read() as session:
        told = checkpointing.witnessed(session, HOUSE, [-1, 0, 1, size, size + 1])
        known = people.school(session)
    assert set(told["proofs"]) == {"1", str(size)}
    assert known is not None
    assert told["vkey"] == known.vkey
    assert told["changes"] == []


def test_a_witness_is_told_nothing_under_a_key_that_gave_way(school: TestSchool) -> None:
    with school.database.read() as session, pytest.raises(BusyError):
        checkpointing.witnessed(session, house_of(OTHER), [])


def test_an_entry_that_is_none_has_no_receipt(school: TestSchool) -> None:
    with school.database.read() as session, pytest.raises(UnknownError):
        checkpointing.receipt(session, HOUSE, 999_999)


@pytest.mark.parametrize("text", ['{"checkpoint": 7}', "{}", '{"checkpoint"', "{[]}"])
def test_what_is_neither_note_nor_receipt_is_told(
    school: TestSchool, tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    with school.database.read() as session, pytest.raises(NoteError, match="receipt"):
        checkpoints.read(text, schoolkeys.succession(session))
    file = tmp_path / "kept.receipt"
    file.write_text(text)
    (tmp_path / "school.key").write_text(SEED.hex())
    assert main(["verify", "--data", str(tmp_path), "--checkpoint", str(file)]) == 4
    assert "cannot be used" in capsys.readouterr().err


def test_a_note_of_the_key_at_hand_is_told_from_a_stranger_s(school: TestSchool) -> None:
    held = issued(school)
    with school.database.read() as session:
        line = schoolkeys.succession(session)
        ours = checkpointing.note_over(session, HOUSE, held.size)
    later = notes.sign_note(held.text(), held.origin, OTHER)
    own = keys.public_of(OTHER)
    assert checkpoints.seen_by(later, own, line)
    assert not checkpoints.seen_by(ours, own, line)
    assert not checkpoints.seen_by(ours, keys.public_of(SEED), line)
