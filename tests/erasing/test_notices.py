"""A notice of an erasure, kept outside: only the school's own word explains what is gone."""

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from gradebook.ledger.canonical import MalformedError
from gradebook.ledger.erasures import (
    ASK,
    ERASE,
    NOTICE,
    WITHDRAW,
    Erasures,
    notice_of,
    read_notice,
)
from gradebook.ledger.statements import Entry
from tests.erasing.test_rules import TOLD as RULES_TOLD
from tests.erasing.test_rules import entry, wish
from tests.ledger.small_ledger import Ledger, opened, public, wrong_signature

Twist = Callable[[Entry], Entry]

GONE = [[3, "aa" * 32], [4, "bb" * 32]]
TOLD = {
    **RULES_TOLD,
    "entries": GONE,
    "events": [[7, "cc" * 32]],
    "rows": {"grade": 2},
}
SCHOOL = [public("cleo"), public("school")]


def said(
    kind: str = ERASE, signer: str = "school", twist: Twist = lambda one: one, **more: Any
) -> Ledger:
    """A ledger that ends with an erasure, or with something else."""
    ledger = opened()
    ledger.say(kind, "school", {**TOLD, **more}, signer=signer, twist=twist)
    return ledger


def notice(ledger: Ledger) -> bytes:
    return notice_of(ledger.entries[-1].text().decode(), ledger.statements[-1].decode())


def test_a_notice_says_what_was_erased_and_holds_both_texts() -> None:
    ledger = said()
    erasure, written, statement = read_notice(notice(ledger), SCHOOL)
    assert (erasure.seq, erasure.name, erasure.asked, erasure.confirmed) == (6, "e1", 10, 11)
    assert (erasure.account, erasure.early, erasure.rows) == (True, False, {"grade": 2})
    assert [list(one) for one in erasure.entries] == GONE
    assert (written, statement) == (
        ledger.entries[-1].text().decode(),
        ledger.statements[-1].decode(),
    )


OTHER_TEXT = said(entries=[[5, "aa" * 32]]).statements[-1].decode()
SPOILT = {
    "not JSON": b"{",
    "a list": b"[]",
    "no text in it": json.dumps({"format": NOTICE, "entry": "{}"}).encode(),
    "another format": notice(said()).replace(b"erasure/1", b"erasure/2"),
    "a stranger's": notice(said(signer="dov")),
    "of something else": notice(said("record.void")),
    "another text": notice_of(said().entries[-1].text().decode(), OTHER_TEXT),
    "for another text": notice(said(twist=lambda one: replace(one, stmt_sha256="00" * 32))),
    "by another name": notice(said(twist=lambda one: replace(one, kid="ab" * 16))),
    "signed by another": notice(said(twist=wrong_signature)),
    "nothing named": notice(said(rows=None)),
}


@pytest.mark.parametrize("what", SPOILT)
def test_what_the_school_did_not_sign_is_no_notice(what: str) -> None:
    with pytest.raises(MalformedError):
        read_notice(SPOILT[what], SCHOOL)


def test_a_notice_explains_only_the_entries_it_names() -> None:
    erasure = read_notice(notice(said()), SCHOOL)[0]
    found = Erasures(blank={3: "aa" * 32, 4: "cc" * 32, 9: "bb" * 32})
    found.accept_notice(erasure)
    assert [seq for seq, _ in found.unexplained()] == [4, 9]
    assert found.events == {(7, "cc" * 32): erasure}


def test_calling_one_erasure_off_leaves_another_asked_for() -> None:
    found = Erasures()
    for seq, name in ((10, "e1"), (11, "e2")):
        list(found.take(entry(seq), wish(ASK, "cleo", erasure=name), by_school=False))
    list(found.take(entry(12), wish(WITHDRAW, "cleo", erasure="e2"), by_school=False))
    assert list(found.wishes) == [10]
