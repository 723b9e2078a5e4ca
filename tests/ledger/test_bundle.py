"""A portable record: a good one is believed, and every other one is not."""

import pytest

from gradebook.ledger.bundle import Verdict, fingerprint, revision, verify_bundle, write_bundle
from gradebook.ledger.bundle_file import LARGEST_FILE
from gradebook.ledger.canonical import MalformedError, jcs, parse
from gradebook.ledger.notes import verifier_key
from tests.ledger.small_ledger import GOOD, ORIGIN, good_fields, public
from tests.ledger.spoilt_files import CONTENT, RAW, spoilt

VKEY = verifier_key(ORIGIN, public("school"))
FINGERPRINT = fingerprint(VKEY)
POSITIONS = 3000


def verdict(data: bytes, trusted: str | None = FINGERPRINT) -> Verdict:
    return verify_bundle(data, trusted)


def test_a_good_record_is_believed_and_says_what_it_holds() -> None:
    told = verdict(GOOD)
    assert (told.code, told.line) == (
        0,
        "Good: whole and unaltered, certified by kelpmoor.example/ledger.",
    )
    assert f"Fingerprint of the key: {FINGERPRINT}" in told.details
    assert "Entries: 16 of 19 in the ledger" in told.details
    assert "Lesson records in force: 2" in told.details
    assert "Statements erased by right: 1" in told.details


def test_a_record_is_written_as_the_file_it_was() -> None:
    assert write_bundle(good_fields()) == GOOD
    with pytest.raises(MalformedError):
        write_bundle(good_fields() | {"extra": 1})


def test_line_ends_of_another_system_do_not_change_a_revision() -> None:
    written = revision({"course.toml": "a = 1\r\nb = 2\r"})
    assert written == revision({"course.toml": "a = 1\nb = 2\n"})


def test_a_line_end_after_the_file_may_be_missing() -> None:
    assert verdict(GOOD[:-1]) == verdict(GOOD)


@pytest.mark.parametrize(
    "trusted",
    [
        VKEY,
        f" {VKEY}\n",
        FINGERPRINT.upper(),
        FINGERPRINT.replace(" ", ":"),
        f"\t{FINGERPRINT}",
    ],
)
def test_the_trusted_key_may_be_typed_in_many_ways(trusted: str) -> None:
    assert verdict(GOOD, trusted).code == 0


@pytest.mark.parametrize(
    "trusted",
    ["", FINGERPRINT[:-1], FINGERPRINT + "0", "0000 " + FINGERPRINT[5:], VKEY[:-1], ORIGIN],
)
def test_another_key_is_refused_though_all_else_is_right(trusted: str) -> None:
    told = verdict(GOOD, trusted)
    assert told.code == 4
    assert "not the one you trust" in told.line


def test_without_a_trusted_key_a_record_only_agrees_with_itself() -> None:
    told = verdict(GOOD, None)
    assert told.code == 0
    assert "compare the fingerprint" in told.line


@pytest.mark.parametrize("name", CONTENT)
def test_a_spoilt_record_is_refused_by_its_code(name: str) -> None:
    told = verdict(spoilt(name))
    assert told.code == CONTENT[name][0], told.line


@pytest.mark.parametrize("name", RAW)
def test_a_file_that_is_no_record_is_refused(name: str) -> None:
    assert verdict(RAW[name]).code == 5


def test_what_is_refused_is_told_in_one_plain_line() -> None:
    lines = [verdict(spoilt(name)).line for name in CONTENT]
    assert all(line.endswith(".") and "\n" not in line and len(line) < 160 for line in lines)
    assert verdict(spoilt("a grade raised")).line == (
        "Altered: the statement of entry 9 was changed."
    )


@pytest.mark.parametrize("part", range(4))
def test_every_changed_byte_is_refused(part: int) -> None:
    step = len(GOOD) / POSITIONS
    for number in range(part, POSITIONS, 4):
        place = int(number * step)
        old = GOOD[place]
        new = old ^ (1 << number % 8) if number % 3 else ord("0") + (old + number) % 10
        if new == old:
            new ^= 1
        data = GOOD[:place] + bytes([new]) + GOOD[place + 1 :]
        if data.removesuffix(b"\n") == GOOD[:-1]:
            continue  # the line end after the file says nothing
        told = verdict(data)
        assert told.code in (2, 3, 4, 5, 6), f"byte {place}: {old} to {new}"
        assert (told.code == 5) or is_canonical(data), f"byte {place}: {old} to {new}"


def is_canonical(data: bytes) -> bool:
    """Whether the file is still readable as what it was written as."""
    return jcs(parse(data)) == data.removesuffix(b"\n")


def test_a_file_larger_than_any_record_is_not_even_read() -> None:
    told = verdict(b" " * (LARGEST_FILE + 1))
    assert (told.code, "larger" in told.line) == (5, True)


@pytest.mark.parametrize("size", [0, 1, 2, 100, 10_000, len(GOOD) - 3])
def test_a_file_cut_short_or_with_a_hole_is_refused(size: int) -> None:
    assert verdict(GOOD[:size]).code == 5
    assert verdict(GOOD[:size] + GOOD[size + 2 :]).code != 0
