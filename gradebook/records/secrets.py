"""Secrets people type: argon2id hashes, and what makes a secret acceptable."""

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from gradebook.records.faults import Problem
from gradebook.settings import HashCost

SHORTEST, LONGEST = 15, 200


def hasher(cost: HashCost) -> PasswordHasher:
    """An argon2id hasher of this cost."""
    return PasswordHasher(
        time_cost=cost.passes, memory_cost=cost.memory_kib, parallelism=cost.lanes
    )


def matches(secret_hash: str, typed: str, cost: HashCost) -> bool:
    """Whether the typed secret is the one hashed. A broken hash matches nothing."""
    try:
        return hasher(cost).verify(secret_hash, typed)
    except (VerificationError, InvalidHashError):
        return False


def check_secret(typed: str, name: str, field: str = "new_secret") -> list[Problem]:
    """Why a new secret cannot stand: too short, too long, or the person's own name.

    A passphrase stands alone here (no second factor), hence 15 characters: NIST SP 800-63B-4.
    """
    if len(typed) < SHORTEST:
        return [Problem(field, f"Use at least {SHORTEST} characters; a short sentence works.")]
    if len(typed) > LONGEST:
        return [Problem(field, f"Use at most {LONGEST} characters.")]
    if (name and name.lower() in typed.lower()) or len(set(typed)) < 5:
        return [Problem(field, "Too easy to guess: use words that are not your name.")]
    return []
