"""Ledgers that were dishonest from the start: signed and in the tree, and still refused."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from gradebook.ledger import keys
from gradebook.ledger.bundle import verify_bundle
from gradebook.ledger.canonical import canonical
from gradebook.ledger.notes import fingerprint, verifier_key
from gradebook.ledger.statements import Entry
from tests.ledger.small_ledger import (
    ANA,
    ORIGIN,
    Ledger,
    fields_of,
    key_of,
    opened,
    public,
    seed,
    written,
    wrong_signature,
)

TRUSTED = fingerprint(verifier_key(ORIGIN, public("school")))
KEYS = [1, 2, 3, 4, 5]
Made = tuple[Ledger, list[int], list[int], list[int]]


def made(ledger: Ledger, *in_force: int, beside: tuple[int, ...] = ()) -> Made:
    """Everything after the first five entries is of Ana, but what stands `beside`."""
    rest = range(6, len(ledger.entries) + 1)
    about = [seq for seq in rest if seq not in beside]
    return ledger, about, [*KEYS, *beside], list(in_force)


def honest() -> Made:
    ledger = opened()
    ledger.sign("L1")
    return made(ledger, 6)


def named_in_passing() -> Made:
    """A statement that only mentions another neither replaces nor erases it."""
    ledger = opened()
    first = ledger.sign("L1")
    passing = dict.fromkeys(("acknowledges", "supersedes", "voids", "erases"), first)
    ledger.say("record.acknowledge", "ana", passing, ANA)
    return made(ledger, 6)


def revoked_key() -> Made:
    ledger = opened()
    ledger.say("key.revoke", "school", {"kid": key_of("ben")["kid"]})
    ledger.sign("L1")
    return made(ledger, 7, beside=(6,))


def revoked_school_key() -> Made:
    ledger = opened()
    ledger.say("key.revoke", "school", {"kid": key_of("school")["kid"]})
    ledger.sign("L1")
    return made(ledger, 7, beside=(6,))


def key_of_no_one() -> Made:
    ledger = opened()
    ledger.say("record.sign", "eve", {}, ANA)
    return made(ledger, 6)


def someone_elses_key() -> Made:
    ledger = opened()
    ledger.say("record.sign", "ben", {}, ANA, signer="ana")
    return made(ledger, 6)


def introduced_by_a_person() -> Made:
    ledger = opened()
    ledger.say("key.enrol", "cleo", key_of("eve"))
    return made(ledger, beside=(6,))


def introduced_twice() -> Made:
    ledger = opened()
    ledger.enrol("ben")
    return made(ledger, beside=(6,))


def kid_of_another_key() -> Made:
    ledger = opened()
    ledger.say("key.enrol", "school", key_of("ben") | {"kid": "ab" * 16})
    return made(ledger, beside=(6,))


def opened_twice() -> Made:
    ledger = opened()
    ledger.say("school.open", "school", key_of("school"))
    return made(ledger, beside=(6,))


def opened_with_a_new_key() -> Made:
    ledger = opened()
    ledger.say("school.open", "school", key_of("eve"))
    return made(ledger, beside=(6,))


def opened_with_another_key() -> Made:
    ledger = Ledger()
    ledger.say("school.open", "ben", key_of("ben"))
    for holder in ("ana", "cleo", "dov", "school"):
        ledger.say("key.enrol", "ben", key_of(holder))
    return made(ledger)


def half_a_key() -> Made:
    ledger = opened()
    ledger.say("key.enrol", "school", {"kid": "ab" * 16, "holder": "eve", "name": "Eve"})
    return made(ledger, beside=(6,))


def holder_is_a_number() -> Made:
    ledger = opened()
    ledger.say("key.enrol", "school", key_of("eve") | {"holder": 7})
    return made(ledger, beside=(6,))


def revokes_nothing() -> Made:
    ledger = opened()
    ledger.say("key.revoke", "school", {"kid": ["ab" * 16]})
    return made(ledger, beside=(6,))


def twisted(twist: Callable[[Entry], Entry]) -> Callable[[], Made]:
    def make() -> Made:
        ledger = opened()
        ledger.say("record.sign", "ben", {}, ANA, twist=twist)
        return made(ledger, 6)

    return make


def bare_signature(entry: Entry) -> Entry:
    """Signed as a note would be, not as a statement."""
    return replace(entry, sig=keys.sign(seed("ben"), b"{}").hex())


def malformed_statement() -> Made:
    ledger = opened()
    ledger.say("record.sign", "ben", {}, ANA, text=canonical({"v": 1}))
    return made(ledger)


def two_heads() -> Made:
    ledger = opened()
    first = ledger.sign("L1")
    ledger.sign("L1", supersedes=first)
    ledger.sign("L1", supersedes=first)
    return made(ledger, 7, 8)


def amended_and_voided() -> Made:
    ledger = opened()
    first = ledger.sign("L1")
    ledger.sign("L1", supersedes=first)
    ledger.say("record.void", "cleo", {"voids": first}, ANA)
    return made(ledger, 7)


def replaces(what: Any) -> Callable[[], Made]:
    def make() -> Made:
        ledger = opened()
        ledger.sign("L1", supersedes=what)
        return made(ledger, 6)

    return make


FORGED: dict[str, tuple[int, Callable[[], Made]]] = {
    "nothing": (0, honest),
    "nothing, though a statement names another": (0, named_in_passing),
    "a revoked key": (4, revoked_key),
    "the school's own key, revoked": (4, revoked_school_key),
    "a key of no one": (4, key_of_no_one),
    "someone else's key": (4, someone_elses_key),
    "a key introduced by a person": (4, introduced_by_a_person),
    "a key introduced twice": (4, introduced_twice),
    "a kid of another key": (4, kid_of_another_key),
    "a ledger opened twice": (4, opened_twice),
    "a ledger opened with another key": (4, opened_with_another_key),
    "a ledger opened again with a new key": (4, opened_with_a_new_key),
    "half a key": (5, half_a_key),
    "a key whose holder is a number": (5, holder_is_a_number),
    "a revocation of nothing": (5, revokes_nothing),
    "a wrong signature": (2, twisted(wrong_signature)),
    "a signature of another kind": (2, twisted(bare_signature)),
    "a wrong hash": (2, twisted(lambda entry: replace(entry, stmt_sha256="ab" * 32))),
    "no link to the entry before": (3, twisted(lambda entry: replace(entry, prev="ab" * 32))),
    "a malformed statement": (5, malformed_statement),
    "two heads": (3, two_heads),
    "amended and voided": (3, amended_and_voided),
    "a replacement of what is not there": (3, replaces("ab" * 32)),
    "a replacement that is no hash": (3, replaces(7)),
}
CERTIFICATES: dict[str, tuple[int, dict[str, Any]]] = {
    "of another enrolment": (2, {"of": "enrolment-eli"}),
    "with too many entries": (3, {"entries": [5, 6]}),
    "with too few entries": (3, {"entries": []}),
    "with entries in another list": (3, {"entries": [], "keys": [1, 2, 3, 4, 5, 6]}),
    "without entries": (5, {"entries": None}),
    "with numbers that are none": (5, {"entries": [True]}),
    "without keys": (5, {"keys": "all"}),
    "of another copy": (2, {"copy": "ab" * 32}),
    "without a copy": (5, {"copy": None}),
}


def forged(name: str) -> bytes:
    """The file that comes of a dishonest ledger."""
    ledger, about, beside, in_force = FORGED[name][1]()
    return written(fields_of(ledger, about, beside, in_force, set()))


def badly_certified(name: str) -> bytes:
    ledger, about, beside, in_force = honest()
    more = CERTIFICATES[name][1]
    return written(fields_of(ledger, about, beside, in_force, set(), more))


def certified_last() -> bytes:
    """The checkpoint was taken right after the certificate."""
    ledger, about, beside, in_force = honest()
    return written(fields_of(ledger, about, beside, in_force, set(), after=0))


def test_the_same_ledger_is_good_when_honest() -> None:
    assert verify_bundle(forged("nothing"), TRUSTED).code == 0
    assert verify_bundle(certified_last(), TRUSTED).code == 0


@pytest.mark.parametrize("name", FORGED)
def test_a_ledger_is_judged_by_what_is_forged_in_it(name: str) -> None:
    told = verify_bundle(forged(name), TRUSTED)
    assert told.code == FORGED[name][0], told.line


@pytest.mark.parametrize("name", CERTIFICATES)
def test_a_bad_certificate_is_refused_by_its_code(name: str) -> None:
    told = verify_bundle(badly_certified(name), TRUSTED)
    assert told.code == CERTIFICATES[name][0], told.line
