"""Ledgers in which Ben signs on his phone too, honestly or not, as files to be judged."""

from collections.abc import Callable
from typing import Any

from tests.ledger.small_ledger import ANA, Ledger, fields_of, key_of, opened, written

KEYS = [1, 2, 3, 4, 5, 6]
Made = tuple[Ledger, list[int], list[int], list[int]]
PHONE = {**key_of("phone"), "holder": "ben", "device": "Ben's phone"}


def with_phone(**changes: Any) -> Ledger:
    """Ben's own key, and sixth his phone's."""
    ledger = opened()
    ledger.say("key.enrol", "school", PHONE | changes)
    return ledger


def signed(ledger: Ledger, assurance: str, signer: str, actor: str = "ben") -> None:
    """One lesson of Ana's, signed so."""
    ledger.say("record.sign", actor, {}, ANA, signer=signer, assurance=assurance)


def both_keys() -> Made:
    """The phone's key and the own one, each as what it is."""
    ledger = with_phone()
    signed(ledger, "device", "phone")
    signed(ledger, "secret", "ben")
    return ledger, [7, 8], KEYS, [7, 8]


def revoked_after() -> Made:
    """What the phone signed before it was ended stays good."""
    ledger = with_phone()
    signed(ledger, "device", "phone")
    ledger.say("key.revoke", "school", {"kid": PHONE["kid"]})
    signed(ledger, "secret", "ben")
    return ledger, [7, 9], [*KEYS, 8], [7, 9]


def revoked_before() -> Made:
    ledger = with_phone()
    ledger.say("key.revoke", "school", {"kid": PHONE["kid"]})
    signed(ledger, "device", "phone")
    return ledger, [8], [*KEYS, 7], [8]


def phone_as_its_owner() -> Made:
    """Signed on the phone, but claims that the secret was typed."""
    ledger = with_phone()
    signed(ledger, "secret+code", "phone")
    return ledger, [7], KEYS, [7]


def owner_as_a_phone() -> Made:
    ledger = with_phone()
    signed(ledger, "device", "ben")
    return ledger, [7], KEYS, [7]


def school_as_a_phone() -> Made:
    ledger = with_phone()
    signed(ledger, "device", "school")
    return ledger, [7], KEYS, [7]


def phone_of_another() -> Made:
    ledger = with_phone()
    signed(ledger, "device", "phone", actor="cleo")
    return ledger, [7], KEYS, [7]


def phone_without_a_name() -> Made:
    """A key is a phone's by having the word, whatever it says."""
    ledger = with_phone(device=None)
    signed(ledger, "secret", "phone")
    return ledger, [7], KEYS, [7]


PHONES: dict[str, tuple[int, Callable[[], Made]]] = {
    "a phone and its owner, both honest": (0, both_keys),
    "a phone ended after it signed": (0, revoked_after),
    "a phone ended before it signed": (4, revoked_before),
    "a phone that says its owner signed": (4, phone_as_its_owner),
    "an owner who says a phone signed": (4, owner_as_a_phone),
    "a school that says a phone signed": (4, school_as_a_phone),
    "another person's phone": (4, phone_of_another),
    "a phone without a name, as its owner": (4, phone_without_a_name),
}


def phone_file(name: str) -> bytes:
    """The file that comes of one of these ledgers."""
    ledger, about, beside, in_force = PHONES[name][1]()
    return written(fields_of(ledger, about, beside, in_force, set()))
