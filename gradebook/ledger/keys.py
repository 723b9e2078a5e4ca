"""Ed25519 keys (RFC 8032): made, named, used; and wrapped in a secret of their holder's."""

import os
from functools import lru_cache

from argon2.low_level import Type, hash_secret_raw
from cryptography.exceptions import InvalidSignature, InvalidTag
from cryptography.hazmat.primitives.asymmetric.ed25519 import (
    Ed25519PrivateKey,
    Ed25519PublicKey,
)
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from gradebook.ledger.canonical import sha256_hex

KEY_LENGTH = 32  # bytes, of a seed, a public key and a wrapping key alike
DOMAIN = b"training-ledger/statement/v1\0"
SUCCESSION = b"training-ledger/succession/v1\0"
_NONCE_LENGTH = 12
_PRIME = 2**255 - 19
_ORDER = 2**252 + 27742317777372353535851937790883648493
_EIGHTH = 0x7A03AC9277FDC74EC6CC392CFA53202A0F67100D760B3CBA4FD84D3D706A17C7
_SMALL = frozenset({0, 1, _PRIME - 1, _EIGHTH, _PRIME - _EIGHTH})
"""The y of the eight points whose order divides 8, whatever the sign of x."""


class WrongKeyError(ValueError):
    """A wrapped key does not open: wrong secret, bound to something else, or damaged."""


def new_key() -> bytes:
    """A fresh seed."""
    return os.urandom(KEY_LENGTH)


def public_of(seed: bytes) -> bytes:
    """The public key of a seed."""
    return Ed25519PrivateKey.from_private_bytes(seed).public_key().public_bytes_raw()


def kid(public: bytes) -> str:
    """A key's name: the first 32 hexadecimal digits of its SHA-256."""
    return sha256_hex(public)[:32]


def sign(seed: bytes, message: bytes) -> bytes:
    """The plain signature of RFC 8032 (64 bytes)."""
    return Ed25519PrivateKey.from_private_bytes(seed).sign(message)


def is_weak(public: bytes) -> bool:
    """Whether a key may not be taken: of a wrong length, of small order, or written otherwise.

    A key of small order has signatures that fit every message; one whose y is not below the
    prime of the field (RFC 8032, 5.1.3) is a second way to write another key.
    """
    y = int.from_bytes(public, "little") & (2**255 - 1)
    return len(public) != KEY_LENGTH or y >= _PRIME or y in _SMALL


def verify(public: bytes, message: bytes, signature: bytes) -> bool:
    """Whether the plain signature is right; with a weak key, or malformed, it is not.

    Its second half must be below the order of the group (RFC 8032, 5.1.7).
    """
    if is_weak(public) or int.from_bytes(signature[KEY_LENGTH:], "little") >= _ORDER:
        return False
    try:
        _opened(public).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


def sign_succession(seed: bytes, old: str, new: str, after: str) -> bytes:
    """The new key's own word in a change of keys: see `verify_succession`."""
    return sign(seed, _succession(old, new, after))


def verify_succession(public: bytes, old: str, new: str, after: str, proof: bytes) -> bool:
    """Whether key `new` (its bytes: `public`) says that it follows key `old` (both by name).

    `after` is the leaf (hex) of the entry before the change, and so all that stood before it.
    """
    return verify(public, _succession(old, new, after), proof)


def _succession(old: str, new: str, after: str) -> bytes:
    return SUCCESSION + f"{old} {new} {after}".encode()


@lru_cache(256)
def _opened(public: bytes) -> Ed25519PublicKey:
    return Ed25519PublicKey.from_public_bytes(public)


def sign_statement(seed: bytes, statement: bytes) -> bytes:
    """Sign a statement's canonical text, marked as a statement and nothing else."""
    return sign(seed, DOMAIN + statement)


def verify_statement(public: bytes, statement: bytes, signature: bytes) -> bool:
    """Whether `signature` is this key's for the statement."""
    return verify(public, DOMAIN + statement, signature)


def derive(secret: str, salt: bytes, passes: int, memory_kib: int, lanes: int) -> bytes:
    """A wrapping key from a password: Argon2id (RFC 9106), 32 bytes."""
    return hash_secret_raw(
        secret.encode(), salt, passes, memory_kib, lanes, KEY_LENGTH, Type.ID
    )


def derive_from_cookie(cookie: str, label: str) -> bytes:
    """A wrapping key from a cookie's random value (RFC 5869), another for each label."""
    return HKDF(SHA256(), KEY_LENGTH, salt=None, info=label.encode()).derive(cookie.encode())


def wrap(seed: bytes, key: bytes, bound_to: str) -> bytes:
    """Encrypt a seed with AES-256-GCM, its nonce first; it opens only with the same words."""
    nonce = os.urandom(_NONCE_LENGTH)
    return nonce + AESGCM(key).encrypt(nonce, seed, bound_to.encode())


def unwrap(wrapped: bytes, key: bytes, bound_to: str) -> bytes:
    """The seed within; WrongKeyError if it does not open."""
    nonce, sealed = wrapped[:_NONCE_LENGTH], wrapped[_NONCE_LENGTH:]
    try:
        return AESGCM(key).decrypt(nonce, sealed, bound_to.encode())
    except (InvalidTag, ValueError) as error:
        raise WrongKeyError("the key does not open with this secret") from error
