"""Reading a whole ledger: each thing that can be wrong with a row, told with its code."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from gradebook.ledger.chain import ALTERED, CUT, UNKNOWN_KEY, Chain, Finding, worst
from gradebook.ledger.erasures import covers
from gradebook.ledger.gleaning import Stored
from gradebook.ledger.statements import Entry
from tests.ledger.small_ledger import ANA, Ledger, key_of, opened, public, wrong_signature

Twist = Callable[[Entry], Entry]
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


TWISTS: dict[str, tuple[Twist, list[tuple[int, int | None]]]] = {
    "numbered wrongly inside": (lambda entry: replace(entry, seq=9), [(CUT, 6)]),
    "after another entry": (lambda entry: replace(entry, prev="00" * 32), [(CUT, 6)]),
    "for another text": (lambda entry: replace(entry, stmt_sha256="00" * 32), [(ALTERED, 6)]),
    "with a wrong signature": (wrong_signature, [(ALTERED, 6)]),
}


@pytest.mark.parametrize("what", TWISTS)
def test_an_entry_forged_with_its_hashes_is_told(what: str) -> None:
    """Whoever owns the database can make leaf and tree agree with an entry of theirs."""
    twist, codes = TWISTS[what]
    ledger = opened()
    ledger.say("record.sign", "ben", {}, ANA, twist=twist)
    assert told(changed(LAST, seq=6)(stored(ledger))) == codes


def test_an_entry_that_skips_a_number_in_row_and_text_is_told() -> None:
    ledger = opened()
    ledger.say("record.sign", "ben", {}, ANA, twist=lambda entry: replace(entry, seq=9))
    assert told(changed(LAST, seq=9)(stored(ledger))) == [(CUT, 9)]


SCHOOLS_ALONE = {
    "introduces a key": ("key.enrol", key_of("eve")),
    "ends a key": ("key.revoke", {"kid": key_of("ben")["kid"]}),
    "says what only the school may": ("school.rename", {"name": "Kelpmoor"}),
}


@pytest.mark.parametrize("what", SCHOOLS_ALONE)
def test_a_person_who_speaks_for_the_school_is_told_and_changes_nothing(what: str) -> None:
    kind, body = SCHOOLS_ALONE[what]
    ledger = opened()
    ledger.say(kind, "cleo", body)
    ledger.sign("L1")
    assert told(stored(ledger)) == [(UNKNOWN_KEY, 6)]


def test_ending_a_key_that_nobody_has_changes_nothing() -> None:
    ledger = opened()
    ledger.say("key.revoke", "school", {"kid": "ab" * 16})
    ledger.sign("L1")
    assert told(stored(ledger)) == []


def erased(actor: str = "dov", signer: str = "school") -> list[Stored]:
    """Ben's lesson was erased: two people asked, the school did. Its text is gone."""
    ledger = opened()
    listed = [[6, ledger.sign("L1")]]
    word = {"erasure": "e1", "covers": covers([(6, listed[0][1])])}  # type: ignore[list-item]
    ledger.say("erasure.ask", "cleo", word)
    ledger.say("erasure.confirm", actor, word)
    body = {"erasure": "e1", "asked": 7, "confirmed": 8, "account": True, "early": False}
    more = {"entries": listed, "events": [], "rows": {}}
    ledger.say("record.erase", signer, {**body, **more})
    ledger.sign("L2")
    return changed(LAST, statement="")(stored(ledger))


def unexplained(rows: list[Stored]) -> tuple[list[tuple[int, int | None]], list[int]]:
    """What is told on the way, and whose text is gone though nobody erased it."""
    chain = Chain(public("school"))
    codes = [(one.code, one.seq) for _, _, found in chain.read(rows) for one in found]
    return codes, [seq for seq, _ in chain.erasures.unexplained()]


def test_an_erased_entry_holds_its_place() -> None:
    assert unexplained(erased()) == ([], [])


@pytest.mark.parametrize(
    ("spoil", "codes"),
    [
        (changed(LAST, leaf="00" * 32), [(ALTERED, 6)]),
        (changed(LAST, nodes=b""), [(ALTERED, 6)]),
        (changed(LAST, seq=9), [(CUT, 9), (ALTERED, 6)]),
        (changed(LAST, entry="{}"), [(ALTERED, 6), (CUT, 7), (ALTERED, 8), (ALTERED, 9)]),
    ],
)
def test_an_erased_entry_that_was_altered_is_told(
    spoil: Spoil, codes: list[tuple[int, int | None]]
) -> None:
    assert unexplained(spoil(erased()))[0] == codes


def test_one_person_alone_erases_nothing() -> None:
    assert unexplained(erased("cleo")) == ([(ALTERED, 9)], [6])


def test_a_person_erases_nothing() -> None:
    assert unexplained(erased(signer="cleo")) == ([(ALTERED, 9)], [6])


def test_an_erasure_that_does_not_hold_itself_explains_nothing() -> None:
    assert unexplained(changed(8, leaf="00" * 32)(erased())) == ([(ALTERED, 9)], [6])
