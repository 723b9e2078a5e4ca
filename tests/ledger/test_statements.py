"""Statements and entries: one text each, and nothing else is read as one."""

from dataclasses import asdict, replace

import pytest

from gradebook.ledger.canonical import MalformedError, canonical, parse, sha256_hex
from gradebook.ledger.statements import Entry, Statement, read_entry, read_statement
from gradebook.ledger.tree import leaf_hash
from tests.ledger.golden import STATEMENT, STATEMENT_SHA256

SAID = Statement(
    id="5f0c2c1e-0000-4000-8000-000000000001",
    type="record.sign",
    actor="inst-7",
    assurance="password",
    claimed_at="2026-03-01T14:05:00Z",
    tz="Europe/Lisbon",
    nonce="0" * 32,
    subject="enrolment-3",
    body={"minutes": 72, "remarks": "cafe\u0301", "grades": {"T1": "4"}},
)
KEPT = Entry(
    seq=2,
    prev="ab" * 32,
    recorded_at="2026-03-01T14:05:01.25Z",
    stmt_sha256=sha256_hex(SAID.text()),
    kid="cd" * 16,
    sig="ef" * 64,
)


def test_the_small_ledgers_statement_is_canonical() -> None:
    assert canonical(parse(STATEMENT)) == STATEMENT.encode()
    assert sha256_hex(STATEMENT.encode()) == STATEMENT_SHA256


def test_a_statement_reads_back() -> None:
    read = read_statement(SAID.text())
    assert read.text() == SAID.text()
    assert read.body["remarks"] == "caf\u00e9"
    assert replace(read, body={}) == replace(SAID, body={})


def test_an_entry_reads_back_and_its_text_is_the_leaf() -> None:
    assert read_entry(KEPT.text()) == KEPT
    assert read_entry(KEPT.text().decode()) == KEPT
    assert KEPT.leaf() == leaf_hash(KEPT.text())


@pytest.mark.parametrize("name", asdict(SAID))
def test_a_statement_without_one_of_its_fields_is_refused(name: str) -> None:
    fields = asdict(SAID)
    del fields[name]
    with pytest.raises(MalformedError, match="fields"):
        read_statement(canonical(fields))


@pytest.mark.parametrize("name", asdict(KEPT))
def test_an_entry_without_one_of_its_fields_is_refused(name: str) -> None:
    fields = asdict(KEPT)
    del fields[name]
    with pytest.raises(MalformedError, match="fields"):
        read_entry(canonical(fields))


def test_an_unknown_field_is_refused() -> None:
    with pytest.raises(MalformedError, match="fields"):
        read_statement(canonical({**asdict(SAID), "extra": 1}))
    with pytest.raises(MalformedError, match="fields"):
        read_entry(canonical({**asdict(KEPT), "extra": 1}))


@pytest.mark.parametrize(
    "wrong",
    [
        {"v": 2},
        {"v": True},
        {"v": "1"},
        {"id": "5F0C2C1E-0000-4000-8000-000000000001"},
        {"id": 7},
        {"type": "sign"},
        {"type": "record.sign\n"},
        {"actor": ""},
        {"actor": None},
        {"assurance": 1},
        {"claimed_at": "2026-03-01T14:05:00+00:00"},
        {"claimed_at": "2026-13-01T14:05:00Z"},
        {"claimed_at": "2026-03-01 14:05:00Z"},
        {"claimed_at": "\u0662026-03-01T14:05:00Z"},
        {"tz": ""},
        {"nonce": "0" * 31},
        {"nonce": "G" * 32},
        {"subject": 3},
        {"subject": ""},
        {"body": []},
        {"body": None},
    ],
)
def test_a_statement_with_a_wrong_field_is_neither_written_nor_read(wrong: dict) -> None:
    with pytest.raises(MalformedError, match="cannot be so"):
        replace(SAID, **wrong).text()
    with pytest.raises(MalformedError, match="cannot be so"):
        read_statement(canonical({**asdict(SAID), **wrong}))


@pytest.mark.parametrize(
    "wrong",
    [
        {"v": 0},
        {"seq": 0},
        {"seq": True},
        {"seq": "2"},
        {"seq": 1},
        {"prev": None},
        {"prev": "AB" * 32},
        {"recorded_at": "now"},
        {"stmt_sha256": "ab" * 31},
        {"alg": "rsa"},
        {"kid": "cd" * 15},
        {"sig": "ef" * 63},
    ],
)
def test_an_entry_with_a_wrong_field_is_neither_written_nor_read(wrong: dict) -> None:
    with pytest.raises(MalformedError, match="entry"):
        replace(KEPT, **wrong).text()
    with pytest.raises(MalformedError, match="entry"):
        read_entry(canonical({**asdict(KEPT), **wrong}))


def test_the_first_entry_has_none_before_it() -> None:
    first = replace(KEPT, seq=1, prev=None)
    assert read_entry(first.text()) == first


@pytest.mark.parametrize(
    "text",
    [
        b" " + SAID.text(),
        SAID.text().replace(b":", b": "),
        SAID.text().replace("\u00e9".encode(), b"\\u00e9"),
        SAID.text().replace("\u00e9".encode(), "e\u0301".encode()),
        SAID.text() + b"\n",
        b"[]",
        b"",
    ],
)
def test_another_way_to_write_the_same_statement_is_refused(text: bytes) -> None:
    with pytest.raises(MalformedError):
        read_statement(text)


def test_a_statement_with_a_float_is_refused() -> None:
    with pytest.raises(MalformedError, match="float"):
        replace(SAID, body={"hours": 1.2}).text()
