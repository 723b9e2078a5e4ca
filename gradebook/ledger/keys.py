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
_NONCE_LENGTH = 12


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


def verify(public: bytes, message: bytes, signature: bytes) -> bool:
    """Whether the plain signature is right; a malformed key or signature is not."""
    try:
        _opened(public).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


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
