"""Sealing a backup for one recipient: whoever makes backups need not be able to read them.

A sealed file is the line `windtee-sealed/1`, a fresh X25519 public key, and chunks of 64 KiB,
each under AES-256-GCM. Their key is HKDF-SHA256 (RFC 5869) of the shared secret (RFC 7748);
a chunk's nonce is its number and whether it is the last, so that none can be changed, moved,
left out or added unseen. Writing and reading take one chunk of memory.
"""

import io
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from gradebook.records.keeping.manifest import BackupError

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

MAGIC = b"windtee-sealed/1\n"
LENGTH, TAG, CHUNK = 32, 16, 1 << 16
RECIPIENT, IDENTITY = "windtee-recipient-1:", "windtee-identity-1:"
"""What stands before the public half, handed out, and the private one, kept elsewhere."""
WRONG = "This sealed backup does not open with this key, or it was altered or cut short."


@dataclass(frozen=True, slots=True)
class Recipient:
    """Who can open what is sealed: the public half of a key."""

    public: bytes

    @property
    def line(self) -> str:
        """The text to hand out."""
        return f"{RECIPIENT}{self.public.hex()}"


@dataclass(frozen=True, slots=True)
class Identity:
    """The private half, which opens what was sealed for its recipient."""

    private: bytes

    @property
    def recipient(self) -> Recipient:
        """The public half."""
        opened = X25519PrivateKey.from_private_bytes(self.private)
        return Recipient(opened.public_key().public_bytes_raw())


def recipient_of(line: str) -> Recipient:
    """Read the public half; BackupError when this is none."""
    return Recipient(_octets(line, RECIPIENT))


def identity_in(file: Path) -> Identity:
    """Read the private half from its file; BackupError when it holds none."""
    return Identity(_octets(file.read_text(errors="replace"), IDENTITY))


def new_identity(file: Path) -> Identity:
    """Make a key and write its private half to a new file only its owner can read."""
    made = Identity(os.urandom(LENGTH))
    descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w") as opened:
        opened.write(f"{IDENTITY}{made.private.hex()}\n")
        opened.flush()
        os.fsync(opened.fileno())
    return made


def _octets(text: str, mark: str) -> bytes:
    digits = text.strip().removeprefix(mark)
    try:
        found = bytes.fromhex(digits)
    except ValueError:
        found = b""
    if len(found) != LENGTH or not text.strip().startswith(mark):
        raise BackupError(f"A key is one line, {mark} and {2 * LENGTH} hexadecimal digits.")
    return found


def _cipher(private: bytes, public: bytes, head: bytes) -> AESGCM:
    """The cipher of one file; ValueError for a public key that is none."""
    shared = X25519PrivateKey.from_private_bytes(private).exchange(
        X25519PublicKey.from_public_bytes(public)
    )
    return AESGCM(HKDF(SHA256(), LENGTH, salt=None, info=head).derive(shared))


def _nonce(number: int, *, last: bool) -> bytes:
    return number.to_bytes(11, "big") + bytes([last])


class Sealer(io.RawIOBase):
    """Takes what is written to it, in chunks, into `raw`; closing it writes the last one."""

    def __init__(self, raw: BinaryIO, recipient: Recipient) -> None:
        own = Identity(os.urandom(LENGTH))
        head = MAGIC + own.recipient.public
        raw.write(head)
        self._raw, self._held, self._number = raw, bytearray(), 0
        self._cipher = _cipher(own.private, recipient.public, head + recipient.public)

    def writable(self) -> bool:
        """It only takes."""
        return True

    def write(self, data: "bytes | bytearray | memoryview", /) -> int:  # type: ignore[override]
        """Take more; a whole chunk goes on as soon as another byte follows it."""
        self._held += data
        while len(self._held) > CHUNK:
            self._pass_on(bytes(self._held[:CHUNK]), last=False)
            del self._held[:CHUNK]
        return len(data)

    def _pass_on(self, chunk: bytes, *, last: bool) -> None:
        nonce = _nonce(self._number, last=last)
        self._raw.write(self._cipher.encrypt(nonce, chunk, None))
        self._number += 1

    def close(self) -> None:
        """Write the last chunk."""
        if not self.closed:
            self._pass_on(bytes(self._held), last=True)
        super().close()


class Opener(io.RawIOBase):
    """Gives back what was sealed; BackupError as soon as a chunk is not what was written."""

    def __init__(self, raw: BinaryIO, identity: Identity) -> None:
        head = raw.read(len(MAGIC) + LENGTH)
        if not head.startswith(MAGIC) or len(head) != len(MAGIC) + LENGTH:
            raise BackupError(WRONG)
        try:
            known = head + identity.recipient.public
            self._cipher = _cipher(identity.private, head[len(MAGIC) :], known)
        except ValueError as fault:
            raise BackupError(WRONG) from fault
        self._raw, self._number, self._held = raw, 0, memoryview(b"")
        self._next: bytes | None = raw.read(CHUNK + TAG)

    def readable(self) -> bool:
        """It only gives."""
        return True

    def readinto(self, buffer: "WriteableBuffer", /) -> int:
        """Fill the buffer as far as the chunk at hand goes; 0 after the last one."""
        target = memoryview(buffer).cast("B")
        while not self._held and self._next is not None:
            self._held = memoryview(self._opened())
        size = min(len(target), len(self._held))
        target[:size] = self._held[:size]
        self._held = self._held[size:]
        return size

    def _opened(self) -> bytes:
        sealed, following = self._next or b"", self._raw.read(CHUNK + TAG)
        try:
            found = self._cipher.decrypt(_nonce(self._number, last=not following), sealed, None)
        except (InvalidTag, ValueError) as fault:
            raise BackupError(WRONG) from fault
        self._number += 1
        self._next = following or None
        return found


def is_sealed(file: Path) -> bool:
    """Whether a file begins as a sealed one does."""
    with file.open("rb") as opened:
        return opened.read(len(MAGIC)) == MAGIC
