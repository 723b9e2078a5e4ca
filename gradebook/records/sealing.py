"""Sealing what the database must hold but its thief must not read: AES-GCM."""

import os

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

NONCE = 12


def seal(words: str, key: str, whose: str) -> bytes:
    """The words, readable only with the installation's key and only as `whose`."""
    nonce = os.urandom(NONCE)
    return nonce + _cipher(key).encrypt(nonce, words.encode(), whose.encode())


def unseal(sealed: bytes, key: str, whose: str) -> str | None:
    """The words again, or None when key, owner or bytes are not the ones sealed."""
    try:
        nonce, hidden = sealed[:NONCE], sealed[NONCE:]
        return _cipher(key).decrypt(nonce, hidden, whose.encode()).decode()
    except (InvalidTag, ValueError):
        return None


def _cipher(key: str) -> AESGCM:
    derived = HKDF(SHA256(), length=32, salt=None, info=b"windtee second factor")
    return AESGCM(derived.derive(key.encode()))
