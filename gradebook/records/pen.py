"""Who puts a name to a statement: the school itself, and the person whose key is open."""

from dataclasses import dataclass

from gradebook.ledger import keys, notes

WITNESSED = "school"
"""Assurance of a statement that the school's key signs for what its server saw."""
ADOPTED = "adopted"
"""Assurance of a statement about what is older than the ledger."""


@dataclass(frozen=True, slots=True)
class Signer:
    """An Ed25519 key that is open, and how sure it is that its owner is there.

    `assurance` is `secret` or `secret+code` (typed for this very act), `session` (opened at
    sign-in), `school` (the server's word) or `adopted` (older than the ledger).
    """

    kid: str
    seed: bytes
    assurance: str


@dataclass(frozen=True, slots=True)
class Pen:
    """The school's key, and the actor's own where it is open."""

    house: Signer
    own: Signer | None = None

    @property
    def hand(self) -> Signer:
        """Who signs: the person where possible, else the school."""
        return self.own or self.house


def house_of(seed: bytes) -> Signer:
    """The school's own signer."""
    return Signer(keys.kid(keys.public_of(seed)), seed, WITNESSED)


def vkey_of(seed: bytes, origin: str) -> str:
    """The school's verifier key, by which anybody can check its checkpoints."""
    return notes.verifier_key(origin, keys.public_of(seed))
