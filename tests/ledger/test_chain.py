"""Reading a whole ledger: each thing that can be wrong with a row, told with its code."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from gradebook.ledger.chain import ALTERED, CUT, UNKNOWN_KEY, Chain, Finding, Stored, worst
from tests.ledger.small_ledger import Ledger, opened, public

Spoil = Callable[[list[Stored]], list[Stored]]
LAST = 5
"""The index of the lesson record that the good ledger ends with."""


def stored(ledger: Ledger) -> list[Stored]:
    return [
        Stored(
            entry.seq, entry.text().decode(), text.decode(), entry.leaf().hex(), b"".join(row)
        )
        for entry, text, row in zip(ledger.entries, ledger.statements, ledger.rows, strict=True)
    ]


def good() -> list[Stored]:
    ledger = opened()
    ledger.sign("L1")
    ledger.sign("L2")
    return stored(ledger)


def told(rows: list[Stored], key: bytes = b"") -> list[tuple[int, int | None]]:
    chain = Chain(key or public("school"))
    return [(one.code, one.seq) for _, _, found in chain.read(rows) for one in found]


def changed(at: int, **fields: object) -> Spoil:
    return lambda rows: [*rows[:at], replace(rows[at], **fields), *rows[at + 1 :]]


def test_a_good_ledger_has_nothing_to_tell_and_its_root() -> None:
    rows = good()
    chain = Chain(public("school"))
    read = list(chain.read(rows))
    assert [found for _, _, found in read] == [[]] * len(rows)
    assert all(signed is not None for _, signed, _ in read)
    assert (chain.size, chain.leaf) == (len(rows), rows[-1].leaf)
    assert len(chain.root()) == 32


@pytest.mark.parametrize(
    ("spoil", "codes"),
    [
        (lambda rows: [*rows[:LAST], *rows[LAST + 1 :]], [(CUT, 7), (ALTERED, 7)]),
        (changed(LAST, leaf="00" * 32), [(ALTERED, 6)]),
        (changed(LAST, nodes=b""), [(ALTERED, 6)]),
        (changed(LAST, seq=9), [(CUT, 9)]),
        (changed(LAST, entry="{}"), [(ALTERED, 6), (CUT, 7)]),
    ],
)
def test_each_fault_is_told_at_its_place(
    spoil: Spoil, codes: list[tuple[int, int | None]]
) -> None:
    assert told(spoil(good())) == codes


def test_words_that_were_not_signed_are_told() -> None:
    rows = good()
    other = rows[LAST].statement.replace("L1", "L9")
    assert other != rows[LAST].statement
    assert told(changed(LAST, statement=other)(rows)) == [(ALTERED, 6)]


def test_nothing_is_believed_under_the_key_of_another_school() -> None:
    codes = told(good(), public("dov"))
    assert {code for code, _ in codes} == {UNKNOWN_KEY}
    assert len(codes) == len(good())


@pytest.mark.parametrize(
    ("codes", "gravest"), [([], 0), ([ALTERED], 2), ([ALTERED, CUT], 3), ([2, 4], 4), ([5], 5)]
)
def test_the_gravest_finding_decides(codes: list[int], gravest: int) -> None:
    assert worst(Finding(code, None, "") for code in codes) == gravest
