"""Secrets people type: argon2id hashes, few at a time, and what makes a secret acceptable."""

import re
import threading
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from argon2 import PasswordHasher, extract_parameters
from argon2.exceptions import InvalidHashError, VerificationError
from zxcvbn import zxcvbn

from gradebook.records.faults import Problem, SlowDownError
from gradebook.settings import HashCost
from syllabus.saying import say

SHORTEST_ALONE, SHORTEST, LONGEST = 15, 8, 200
STRONG_ALONE, STRONG = 3, 2
"""The least zxcvbn scores (0-4): more than 10^8 guesses, and 10^6 beside a second factor."""
READ = 72
"""How many characters zxcvbn weighs; what follows only makes a secret stronger."""
TRADE = (
    "windtee", "gradebook", "aviation", "aviator", "pilot", "student", "instructor", "chief",
    "flight", "flying", "school", "airplane", "aeroplane", "aircraft", "helicopter", "rotor",
    "runway", "takeoff", "landing", "hover", "airspeed", "altitude", "checklist", "cockpit",
    "captain", "tower", "solo", "traffic", "crosswind", "autorotation", "mayday", "logbook",
)  # fmt: skip
"""Words a guesser would try first here."""
ADVICE = say("Use a few words that are not about you or your work.")
AT_ONCE, PATIENCE = 2, 3.0
UNSET = "-"
"""In place of a hash: an account whose secret has not been set. It matches nothing."""

_turns = threading.BoundedSemaphore(AT_ONCE)


@contextmanager
def turn() -> Iterator[None]:
    """Leave to work one argon2id hash: two at a time in a process, else SlowDownError."""
    if not _turns.acquire(timeout=PATIENCE):
        raise SlowDownError(
            say(
                "Many secrets are being checked right now. Try again in a moment; "
                "nothing is lost."
            )
        )
    try:
        yield
    finally:
        _turns.release()


def plain(typed: str) -> str:
    """The typed text as every keyboard would send it (Unicode NFKC)."""
    return unicodedata.normalize("NFKC", typed)


def hashed(typed: str, cost: HashCost) -> str:
    """The argon2id hash of a secret, as text that names its cost and salt."""
    with turn():
        return _hasher(cost).hash(plain(typed))


def matches(secret_hash: str, typed: str, cost: HashCost) -> bool:
    """Whether the typed secret is the one hashed. A broken hash matches nothing.

    An account without a secret takes as long as any other.
    """
    known = _nobody(cost) if secret_hash in ("", UNSET) else secret_hash
    try:
        with turn():
            _hasher(cost).verify(known, plain(typed))
        return known == secret_hash
    except (VerificationError, InvalidHashError):
        return False


def outgrown(secret_hash: str, cost: HashCost) -> bool:
    """Whether this hash was made at a lower cost than is asked now."""
    made = extract_parameters(secret_hash)
    return made.time_cost < cost.passes or made.memory_cost < cost.memory_kib


def check_secret(
    typed: str, about: Sequence[str], *, alone: bool, field: str = "new_secret"
) -> list[Problem]:
    """Why a new secret cannot stand: too short, too long, or easy to guess.

    `about` are words of the person and the school. A secret that stands alone needs 15
    characters, one beside a second factor 8; any characters will do: NIST SP 800-63B-4.
    """
    known, least = plain(typed), SHORTEST_ALONE if alone else SHORTEST
    if len(known) < least:
        return [
            Problem(
                field,
                say("Use at least {least} characters; a short sentence works.", least=least),
            )
        ]
    if len(known) > LONGEST:
        return [Problem(field, say("Use at most {longest} characters.", longest=LONGEST))]
    guessed = zxcvbn(_beside(known.lower(), about)[:READ] or known[0])
    if guessed["score"] < (STRONG_ALONE if alone else STRONG):
        said = guessed["feedback"]["warning"].rstrip(".")
        return [
            Problem(
                field, say("Too easy to guess. {advice}", advice=f"{said}." if said else ADVICE)
            )
        ]
    return []


def _beside(typed: str, about: Sequence[str]) -> str:
    """What is left of a secret without the words anybody would try first here."""
    named = {word.lower() for words in about for word in re.split(r"\W+", words)}
    for word in sorted({word for word in named if len(word) > 2}.union(TRADE), key=len)[::-1]:
        typed = typed.replace(word, "")
    return typed.strip()


def _hasher(cost: HashCost) -> PasswordHasher:
    return PasswordHasher(
        time_cost=cost.passes, memory_cost=cost.memory_kib, parallelism=cost.lanes
    )


def _nobody(cost: HashCost) -> str:
    """A hash that nothing matches, as dear to check as any other."""
    filler = "A" * 22
    work = f"m={cost.memory_kib},t={cost.passes},p={cost.lanes}"
    return f"$argon2id$v=19${work}${filler}${filler}{'A' * 21}"
