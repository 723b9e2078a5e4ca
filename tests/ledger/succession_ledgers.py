"""Ledgers whose school changed its key, honestly or not, as files and as whole ledgers."""

from collections.abc import Callable
from typing import Any

from gradebook.ledger import keys
from gradebook.ledger.gleaning import Stored
from gradebook.ledger.notes import fingerprint, verifier_key
from tests.ledger.small_ledger import (
    ANA,
    ORIGIN,
    PEOPLE,
    Ledger,
    fields_of,
    key_of,
    opened,
    public,
    seed,
    written,
)

OLD, NEW, THIRD = "school", "school-new", "school-third"
PEOPLE |= {NEW: "Kelpmoor", THIRD: "Kelpmoor"}
PRINTS = {
    one: fingerprint(verifier_key(ORIGIN, public(one))) for one in (OLD, NEW, THIRD, "ben")
}
Made = tuple[Ledger, list[int], list[int], list[int], str]


def change(ledger: Ledger, old: str, new: str, **more: Any) -> dict[str, Any]:
    """What the next entry says to let `new` follow `old`."""
    follows, after = keys.kid(public(old)), ledger.entries[-1].leaf().hex()
    proof = keys.sign_succession(seed(new), follows, keys.kid(public(new)), after)
    said = {**key_of(new), "holder": "school", "follows": follows, "proof": proof.hex()}
    return said | more


def rotate(ledger: Ledger, old: str = OLD, new: str = NEW, **more: Any) -> None:
    signer = more.pop("signer", old)
    ledger.say("key.rotate", "school", change(ledger, old, new, **more), signer=signer)


def compromise(ledger: Ledger, good: Any, old: str = OLD, new: str = NEW, **more: Any) -> None:
    signer = more.pop("signer", new)
    body = change(ledger, old, new, good_size=good, why="a lost disk", **more)
    ledger.say("key.compromised", "school", body, signer=signer)


def made(ledger: Ledger, key: str = NEW) -> Made:
    """The file of Ana's lessons, the rest of the first lesson's ledger beside them."""
    kinds = [(at, said) for at, said in enumerate(ledger.statements, 1)]
    about = [at for at, said in kinds if b'"type":"record.' in said]
    return ledger, about, [at for at, _ in kinds if at not in about], about, key


def rotated() -> Made:
    """Five entries, a lesson, the change at 7, a key by the new one, and lessons again."""
    ledger = opened()
    ledger.sign("L1")
    rotate(ledger)
    ledger.say("key.enrol", "school", key_of("eve"), signer=NEW)
    ledger.say("record.sign", "eve", {}, ANA)
    return made(ledger)


def rotated_twice() -> Made:
    ledger = rotated()[0]
    rotate(ledger, NEW, THIRD)
    ledger.sign("L3")
    return made(ledger, THIRD)


def old_key_after_rotation() -> Made:
    ledger = rotated()[0]
    ledger.say("record.sign", "ben", {}, ANA, signer=OLD)
    return made(ledger)


def enrolled_by_old_key_after_rotation() -> Made:
    ledger = opened()
    rotate(ledger)
    ledger.enrol("eve")
    return made(ledger)


def ended_by_old_key_after_rotation() -> Made:
    ledger = rotated()[0]
    ledger.say("key.revoke", "school", {"kid": key_of("dov")["kid"]}, signer=OLD)
    return made(ledger)


def rotated_to_a_persons_key() -> Made:
    ledger = opened()
    rotate(ledger, OLD, "ben")
    return made(ledger, "ben")


def introduced_again() -> Made:
    """A key that was ended is introduced once more."""
    ledger = opened()
    ledger.sign("L1")
    ledger.say("key.revoke", "school", {"kid": key_of("ben")["kid"]})
    ledger.enrol("ben")
    ledger.sign("L2")
    return made(ledger, OLD)


def new_key_before_rotation() -> Made:
    ledger = opened()
    ledger.say("key.enrol", "school", key_of("eve"), signer=NEW)
    rotate(ledger)
    return made(ledger)


def rotated_by_a_person() -> Made:
    ledger = opened()
    rotate(ledger, signer="cleo")
    return made(ledger)


def rotated_without_new_keys_word() -> Made:
    ledger = opened()
    rotate(ledger, proof="00" * 64)
    return made(ledger)


def rotated_with_a_word_for_elsewhere() -> Made:
    """The new key's word is for another place: the same change cannot be moved."""
    ledger = opened()
    body = change(ledger, OLD, NEW)
    ledger.sign("L1")
    ledger.say("key.rotate", "school", body)
    return made(ledger)


def rotated_to_a_weak_key() -> Made:
    """The point of order one: its signatures fit every message."""
    ledger = opened()
    weak = bytes([1]) + bytes(31)
    rotate(ledger, kid=keys.kid(weak), public=weak.hex())
    return made(ledger)


def rotated_under_another_name() -> Made:
    """The new key vouches for a name that is not its own."""
    ledger = opened()
    follows, after = keys.kid(public(OLD)), ledger.entries[-1].leaf().hex()
    proof = keys.sign_succession(seed(NEW), follows, "ab" * 16, after)
    rotate(ledger, kid="ab" * 16, proof=proof.hex())
    return made(ledger)


def weak_phone() -> Made:
    ledger = opened()
    weak = bytes([1]) + bytes(31)
    body = {**key_of("phone"), "kid": keys.kid(weak), "public": weak.hex(), "device": "x"}
    ledger.say("key.enrol", "school", body)
    return made(ledger, OLD)


def rotated_back() -> Made:
    ledger = rotated()[0]
    rotate(ledger, NEW, OLD)
    return made(ledger, OLD)


def rotated_from_a_key_before() -> Made:
    ledger = rotated()[0]
    rotate(ledger, OLD, THIRD)
    return made(ledger, THIRD)


def rotated_without_fields() -> Made:
    ledger = opened()
    rotate(ledger, proof=7)
    return made(ledger)


def rotated_with_a_field_left_out() -> Made:
    ledger = opened()
    body = change(ledger, OLD, NEW)
    del body["holder"]
    ledger.say("key.rotate", "school", body, signer=OLD)
    return made(ledger)


def rotated_with_a_good_size() -> Made:
    """Only a compromise says how far a key is believed, whatever a rotation holds."""
    ledger = opened()
    rotate(ledger, good_size=2)
    return made(ledger)


def disowned_by_a_person() -> Made:
    """Ben's lesson holds what a compromise would: it ends nobody's key."""
    ledger = opened()
    follows = keys.kid(public(OLD))
    ledger.say("record.sign", "ben", {"follows": follows, "good_size": 2}, ANA)
    return made(ledger, OLD)


def compromise_of_a_list() -> Made:
    ledger = opened()
    compromise(ledger, 5, follows=["ab" * 16])
    return made(ledger)


def opened_twice() -> Made:
    """Whoever has a key of their own opens the ledger once more with it."""
    ledger = opened()
    ledger.say("school.open", "school", key_of(NEW), signer=NEW)
    return made(ledger)


def introduced_unreadably() -> Made:
    ledger = opened()
    ledger.say("key.enrol", "school", {**key_of("eve"), "public": "no key"})
    return made(ledger, OLD)


def introduced_under_another_name() -> Made:
    ledger = opened()
    ledger.say("key.enrol", "school", {**key_of("eve"), "kid": "ab" * 16})
    return made(ledger, OLD)


def rotation_hidden() -> Made:
    """The file leaves the change out."""
    ledger, about, beside, in_force, key = rotated()
    return ledger, about, [one for one in beside if one != 7], in_force, key


def compromised() -> Made:
    """All six entries are good; the change is the seventh."""
    ledger = opened()
    ledger.sign("L1")
    compromise(ledger, 6)
    ledger.say("key.enrol", "school", key_of("eve"), signer=NEW)
    ledger.say("record.sign", "eve", {}, ANA)
    return made(ledger)


def forged_beyond() -> Made:
    """Eve's key was introduced with the stolen key, beyond the good size."""
    ledger = opened()
    ledger.enrol("eve")
    ledger.say("record.sign", "eve", {}, ANA)
    compromise(ledger, 5)
    return made(ledger)


def ended_beyond() -> Made:
    """With the stolen key somebody ends a person's key, and signs nothing else."""
    ledger = opened()
    ledger.say("key.revoke", "school", {"kid": key_of("dov")["kid"]})
    compromise(ledger, 5)
    return made(ledger)


def marked_beyond() -> Made:
    """With the stolen key somebody says what changes no key."""
    ledger = opened()
    ledger.say("audit.mark", "school", {"events": 1, "root": ""})
    compromise(ledger, 5)
    return made(ledger)


def people_beyond() -> Made:
    """What people signed beyond the good size with keys from before it stays good."""
    ledger = opened()
    ledger.sign("L1")
    ledger.sign("L2")
    compromise(ledger, 5)
    return made(ledger)


def old_key_after_compromise() -> Made:
    ledger = compromised()[0]
    ledger.say("key.revoke", "school", {"kid": key_of("dov")["kid"]}, signer=OLD)
    return made(ledger)


def told_by_the_compromised_key() -> Made:
    ledger = opened()
    compromise(ledger, 5, signer=OLD)
    return made(ledger)


def told_by_the_key_itself_in_its_time() -> Made:
    """Its good size takes in the very entry, which only the new key may sign."""
    ledger = opened()
    compromise(ledger, 6, signer=OLD)
    return made(ledger)


def compromise_of_nobody() -> Made:
    """The new key follows the one in force, yet calls another one compromised."""
    ledger = opened()
    compromise(ledger, 5, follows="ab" * 16)
    return made(ledger)


def good_beyond_the_ledger() -> Made:
    ledger = opened()
    compromise(ledger, 7)
    return made(ledger)


def good_is_true() -> Made:
    ledger = opened()
    compromise(ledger, True)
    return made(ledger)


def good_before_a_rotation() -> Made:
    ledger = rotated()[0]
    compromise(ledger, 6, NEW, THIRD)
    return made(ledger, THIRD)


def good_before_the_key_itself() -> Made:
    """Nothing stands beyond it that the key signed: the size alone is wrong."""
    ledger = opened()
    rotate(ledger)
    compromise(ledger, 5, NEW, THIRD)
    return made(ledger, THIRD)


def nothing_good() -> Made:
    """The key is called compromised from its first entry on, and had signed none."""
    ledger = opened()
    rotate(ledger)
    compromise(ledger, 6, NEW, THIRD)
    return made(ledger, THIRD)


def everything_left_out() -> Made:
    """The file begins with the change, which follows no key then."""
    ledger = opened()
    compromise(ledger, 5)
    return ledger, [], [6], [], NEW


def rotated_then_compromised() -> Made:
    ledger = rotated()[0]
    compromise(ledger, 9, NEW, THIRD)
    ledger.sign("L3")
    return made(ledger, THIRD)


def compromised_then_rotated() -> Made:
    ledger = compromised()[0]
    rotate(ledger, NEW, THIRD)
    ledger.sign("L3")
    return made(ledger, THIRD)


SUCCESSIONS: dict[str, tuple[int, int, Callable[[], Made]]] = {  # under the old, the new key
    "a rotation": (0, 0, rotated),
    "two rotations": (0, 0, rotated_twice),
    "the old key after a rotation": (4, 4, old_key_after_rotation),
    "a key introduced by the old one": (4, 4, enrolled_by_old_key_after_rotation),
    "a key ended by the old one": (4, 4, ended_by_old_key_after_rotation),
    "a rotation to a person's key": (4, 4, rotated_to_a_persons_key),
    "a key introduced again": (4, 4, introduced_again),
    "the new key before its rotation": (4, 4, new_key_before_rotation),
    "a rotation by a person": (4, 4, rotated_by_a_person),
    "a rotation without the new key": (4, 4, rotated_without_new_keys_word),
    "a rotation moved elsewhere": (4, 4, rotated_with_a_word_for_elsewhere),
    "a rotation to a weak key": (4, 4, rotated_to_a_weak_key),
    "a rotation under another name": (4, 4, rotated_under_another_name),
    "a weak key of a phone": (4, 4, weak_phone),
    "a rotation back": (4, 4, rotated_back),
    "a rotation from a key before": (4, 4, rotated_from_a_key_before),
    "a rotation that cannot be read": (5, 5, rotated_without_fields),
    "a rotation that leaves a field out": (5, 5, rotated_with_a_field_left_out),
    "a rotation that names a good size": (0, 0, rotated_with_a_good_size),
    "a person's word about the school's key": (0, 0, disowned_by_a_person),
    "a compromise of something else": (5, 5, compromise_of_a_list),
    "a second opening": (4, 4, opened_twice),
    "a key introduced unreadably": (5, 5, introduced_unreadably),
    "a key introduced under another name": (4, 4, introduced_under_another_name),
    "a rotation left out of the file": (4, 4, rotation_hidden),
    "a compromise": (4, 0, compromised),
    "a key forged beyond the good size": (4, 4, forged_beyond),
    "a key ended beyond the good size": (4, 4, ended_beyond),
    "a mark of the trail beyond the good size": (4, 4, marked_beyond),
    "people beyond the good size": (4, 0, people_beyond),
    "the old key after a compromise": (4, 4, old_key_after_compromise),
    "a compromise told by the key itself": (4, 4, told_by_the_compromised_key),
    "a compromise told by the key in its time": (4, 4, told_by_the_key_itself_in_its_time),
    "a compromise of nobody's key": (4, 4, compromise_of_nobody),
    "a good size beyond the ledger": (4, 4, good_beyond_the_ledger),
    "a good size that is no number": (5, 5, good_is_true),
    "a good size before a rotation": (4, 4, good_before_a_rotation),
    "a good size before the key itself": (4, 4, good_before_the_key_itself),
    "a key of which nothing is good": (4, 0, nothing_good),
    "all before a change left out of the file": (4, 4, everything_left_out),
    "a rotation, then a compromise": (4, 0, rotated_then_compromised),
    "a compromise, then a rotation": (4, 0, compromised_then_rotated),
}
WHOLE = [one for one in SUCCESSIONS if not one.endswith("left out of the file")]
"""Those that a whole ledger can be."""


def succession_file(name: str) -> tuple[bytes, str]:
    """The file that comes of one of these ledgers, and the fingerprint of its last key."""
    ledger, about, beside, in_force, key = SUCCESSIONS[name][2]()
    return written(fields_of(ledger, about, beside, in_force, set(), school=key)), PRINTS[key]


def stored(ledger: Ledger) -> list[Stored]:
    """The ledger as a database keeps it."""
    rows = zip(ledger.entries, ledger.statements, ledger.rows, strict=True)
    return [
        Stored(one.seq, one.text().decode(), text.decode(), one.leaf().hex(), b"".join(row))
        for one, text, row in rows
    ]
