"""A school that changed its key: a stranger follows it from any key that gave way in order."""

import json
from pathlib import Path

import pytest

from gradebook.ledger.bundle import fingerprint, verify_bundle
from gradebook.ledger.chain import Chain
from gradebook.ledger.notes import NoteError, sign_note, verifier_key
from gradebook.ledger.statements import read_statement
from gradebook.ledger.succession import CHANGES, DisownedError, Succession, UnfitError, limits
from tests.ledger.small_ledger import ORIGIN, public, seed
from tests.ledger.succession_ledgers import (
    NEW,
    OLD,
    PRINTS,
    SUCCESSIONS,
    THIRD,
    WHOLE,
    compromised,
    rotated,
    rotated_then_compromised,
    stored,
    succession_file,
)

FROZEN = sorted(Path(__file__).with_name("frozen").glob("*.windtee-record"))


def read_through(name: str) -> tuple[Chain, set[int]]:
    """The chain over a whole ledger, and the codes found on the way."""
    ledger = SUCCESSIONS[name][2]()[0]
    good = limits(read_statement(text) for text in ledger.statements)
    chain = Chain(public(OLD), good)
    return chain, {one.code for _, _, found in chain.read(stored(ledger)) for one in found}


@pytest.mark.parametrize("name", SUCCESSIONS)
def test_a_file_is_judged_from_the_first_key_and_from_its_last(name: str) -> None:
    under_old, under_new, _ = SUCCESSIONS[name]
    data, last = succession_file(name)
    told = [verify_bundle(data, trusted) for trusted in (PRINTS[OLD], last)]
    assert [one.code for one in told] == [under_old, under_new], [one.line for one in told]


@pytest.mark.parametrize("name", WHOLE)
def test_a_whole_ledger_is_judged_alike(name: str) -> None:
    code = SUCCESSIONS[name][1]
    found = read_through(name)[1]
    assert found == ({4} if code else set())


REFUSED = {
    "a rotation back": "not named rightly, or not new",
    "a rotation under another name": "not named rightly, or not new",
    "a rotation by a person": "not the key in force that gives way",
    "a rotation from a key before": "not the key in force that gives way",
    "a compromise of nobody's key": "not the key in force that gives way",
    "a compromise told by the key in its time": "not the key in force that gives way",
    "a rotation without the new key": "does not say that it follows",
    "a rotation moved elsewhere": "does not say that it follows",
    "a good size beyond the ledger": "could have signed",
    "a good size before the key itself": "could have signed",
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_change_that_may_not_be_leaves_the_keys_as_they_are(name: str) -> None:
    """Whoever asks the ledger for its keys alone gets none that it may not have."""
    ledger = SUCCESSIONS[name][2]()[0]
    line, refused = Succession(), list[str]()
    line.begin(public(OLD))
    for entry, text in zip(ledger.entries, ledger.statements, strict=True):
        statement = read_statement(text)
        if statement.type in CHANGES:
            before = list(line.keys)
            try:
                line.take(entry, statement)
            except UnfitError as fault:
                refused.append(str(fault))
                assert line.keys == before
    assert len(refused) == 1
    assert REFUSED[name] in refused[0]


def test_no_key_follows_where_there_is_none() -> None:
    ledger = rotated()[0]
    with pytest.raises(UnfitError):
        Succession().take(ledger.entries[6], read_statement(ledger.statements[6]))
    assert Succession().current is None


def test_whom_a_stolen_key_introduced_is_unknown_too() -> None:
    ledger = SUCCESSIONS["a key forged beyond the good size"][2]()[0]
    chain = Chain(public(OLD), limits(read_statement(text) for text in ledger.statements))
    found = {one.seq for _, _, found in chain.read(stored(ledger)) for one in found}
    assert found == {6, 7}


def test_every_key_between_is_as_good_as_the_last() -> None:
    data, _ = succession_file("two rotations")
    told = [verify_bundle(data, PRINTS[one]) for one in (OLD, NEW, THIRD)]
    assert [one.code for one in told] == [0, 0, 0]
    assert told[0].prints == (PRINTS[THIRD], PRINTS[NEW], PRINTS[OLD])
    assert told[0].details[1].startswith(f"Earlier key: {PRINTS[NEW]}, for entries 8 to 10")


def test_a_key_from_before_a_compromise_is_told_apart_from_an_unknown_one() -> None:
    data, _ = succession_file("a rotation, then a compromise")
    lines = [verify_bundle(data, PRINTS[one]).line for one in (OLD, NEW)]
    assert all("was compromised" in line for line in lines)
    assert "not the one you trust" in verify_bundle(data, "0" * 32).line


def test_what_does_not_hold_is_told_in_a_sentence() -> None:
    data, last = succession_file("the old key after a rotation")
    line = verify_bundle(data, last).line
    assert line == "Unknown or revoked key: entry 10 is signed by a key revoked before."


def test_a_file_made_under_a_key_cannot_know_the_next_one() -> None:
    data, _ = succession_file("a weak key of a phone")
    assert verify_bundle(data, PRINTS[NEW]).code == 4


@pytest.mark.parametrize("path", FROZEN, ids=lambda path: path.stem)
def test_a_file_of_an_earlier_version_is_still_believed(path: Path) -> None:
    data = path.read_bytes()
    key = fingerprint(json.loads(data)["vkey"])
    assert verify_bundle(data, key).code == 0
    assert verify_bundle(data, "0" * 32).code == 4


def test_a_checkpoint_counts_by_the_key_in_force_over_its_size() -> None:
    ledger = rotated()[0]
    line = read_through("a rotation")[0].line
    line.origin = ORIGIN
    sizes = {OLD: (6, 7), NEW: (7, 8, 9)}
    for by, allowed in sizes.items():
        for size in range(5, 10):
            note = ledger.checkpoint(size, by)
            if size in allowed or (by == OLD and size < 7):
                assert line.open(note).size == size
            else:
                with pytest.raises(DisownedError):
                    line.open(note)
    with pytest.raises(NoteError, match="not signed by a key of this school"):
        line.open(ledger.checkpoint(7, "dov"))


@pytest.mark.parametrize(
    ("name", "before"),
    [("a rotation", 7), ("a compromise", 6), ("people beyond the good size", 5)],
)
def test_each_place_is_signed_by_the_key_of_its_time(name: str, before: int) -> None:
    line = read_through(name)[0].line
    last, first = line.keys[0].until, line.keys[1].since
    assert last == before
    assert line.publics_at(before) == [public(OLD)]
    assert line.publics_at(first) == [public(NEW)]
    assert line.publics_at(first - 1) in ([public(OLD)], [])


def test_at_the_change_a_checkpoint_carries_both_signatures() -> None:
    ledger = rotated()[0]
    line = read_through("a rotation")[0].line
    line.origin = ORIGIN
    text = ledger.checkpoint(7).rpartition("\n\n")[0] + "\n"
    both = sign_note(text, ORIGIN, seed(NEW), seed(OLD))
    assert both.count("\u2014") == 2
    assert line.open(both).size == 7
    line.keys = line.keys[:1]  # whoever knows the old key alone
    assert line.open(both).size == 7


def test_a_compromised_keys_checkpoints_count_up_to_the_good_size() -> None:
    ledger = compromised()[0]
    line = read_through("a compromise")[0].line
    line.origin = ORIGIN
    assert line.open(ledger.checkpoint(6, OLD)).size == 6
    with pytest.raises(DisownedError):
        line.open(ledger.checkpoint(7, OLD))


def test_the_keys_of_a_ledger_say_where_each_signed() -> None:
    assert rotated_then_compromised()[4] == THIRD
    line = read_through("a rotation, then a compromise")[0].line
    told = [(one.since, one.until, one.ended, one.compromised) for one in line.keys]
    assert told == [(1, 7, 7, False), (8, 9, 10, True), (10, None, None, False)]
    assert [line.keys[2]] == line.followed


def test_only_the_named_key_line_is_a_key_line() -> None:
    weak = bytes([1]) + bytes(31)
    with pytest.raises(NoteError, match="weak"):
        fingerprint(verifier_key(ORIGIN, weak))
