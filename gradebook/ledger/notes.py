"""Signed notes and checkpoints, in the open formats of C2SP (signed-note, tlog-checkpoint)."""

import base64
import binascii
import hashlib
import re
from dataclasses import dataclass

from gradebook.ledger import keys
from gradebook.ledger.tree import HASH_LENGTH

_ED25519 = b"\x01"
_MARK = "\u2014 "
_MOST_SIGNATURES = 16
_SIZE = re.compile(r"0|[1-9][0-9]{0,14}", re.ASCII)
_NAME = re.compile("[!-*,-~]+")  # narrower than the format: it must look alike everywhere
_CONTROL = re.compile("[\x00-\x09\x0b-\x1f\ud800-\udfff]")


class NoteError(ValueError):
    """A note, key or checkpoint that cannot be believed; the message says why."""


class NotSignedError(NoteError):
    """A note without a signature by the key asked for."""


class WrongSignatureError(NoteError):
    """A note whose signature by the key asked for does not fit."""


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """How far a ledger had come: its name, the number of entries and the root over them."""

    origin: str
    size: int
    root: bytes

    def text(self) -> str:
        """The three lines a note signs."""
        return f"{self.origin}\n{self.size}\n{base64.b64encode(self.root).decode()}\n"


def read_checkpoint(text: str) -> Checkpoint:
    """Read the three lines; NoteError for anything else, extension lines included."""
    match text.split("\n"):
        case [origin, size, root, ""] if origin and _SIZE.fullmatch(size):
            checkpoint = Checkpoint(origin, int(size), _from_base64(root))
        case _:
            raise NoteError("a checkpoint is three lines: origin, size and root")
    if len(checkpoint.root) != HASH_LENGTH:
        raise NoteError("the root of a checkpoint is 32 bytes long")
    return checkpoint


def verifier_key(name: str, public: bytes) -> str:
    """The key as one line, to hand out: name, key hash and key; NoteError for a bad name."""
    _check_name(name)
    key = base64.b64encode(_ED25519 + public).decode()
    return f"{name}+{_key_digest(name, public)[:4].hex()}+{key}"


def read_verifier_key(vkey: str) -> tuple[str, bytes, bytes]:
    """Name, key hash (4 bytes) and public key (32) of such a line; NoteError if it is none."""
    name, key_hash, key = [*vkey.split("+", 2), "", ""][:3]
    _check_name(name)
    data = _from_base64(key)
    kind, public = data[:1], data[1:]
    if kind != _ED25519 or len(public) != keys.KEY_LENGTH:
        raise NoteError("only Ed25519 keys are known here")
    if keys.is_weak(public):
        raise NoteError("the key is weak: anybody could sign with it")
    digest = _key_digest(name, public)[:4]
    if digest.hex() != key_hash:
        raise NoteError("the key does not belong to its name and key hash")
    return name, digest, public


def fingerprint(vkey: str) -> str:
    """The first 128 bits of SHA-256 of name and key, for people to compare by eye.

    Eight groups of four hexadecimal digits; the first two are the key hash within the line.
    """
    name, _, public = read_verifier_key(vkey)
    digits = _key_digest(name, public).hex()[:32]
    return " ".join(digits[at : at + 4] for at in range(0, 32, 4))


def sign_note(text: str, name: str, *privates: bytes) -> str:
    """The text with a signature line for each seed; NoteError for a bad text."""
    _check_name(name)
    if not text.endswith("\n") or _CONTROL.search(text):
        raise NoteError("a note ends its last line and holds no control characters")
    return f"{text}\n{''.join(_line(text, name, private) for private in privates)}"


def _line(text: str, name: str, private: bytes) -> str:
    digest = _key_digest(name, keys.public_of(private))[:4]
    signature = base64.b64encode(digest + keys.sign(private, text.encode())).decode()
    return f"{_MARK}{name} {signature}\n"


def open_note(note: str, vkey: str) -> str:
    """The text of a note that this key has signed; NoteError if it has not.

    Signatures by other keys are passed over, as the format asks; one by this key that is
    wrong is not.
    """
    text, gap, tail = note.rpartition("\n\n")
    lines = tail.split("\n")[:-1]
    if not gap or not tail.endswith("\n") or _CONTROL.search(note):
        raise NoteError("not a signed note")
    if len(lines) > _MOST_SIGNATURES:
        raise NoteError("too many signatures")
    name, digest, public = read_verifier_key(vkey)
    found = [_signature_in(line) for line in lines]
    signatures = [data[4:] for by, data in found if by == name and data[:4] == digest]
    signed = (text + "\n").encode()
    if not signatures:
        raise NotSignedError("the note is not signed by this key")
    if not all(keys.verify(public, signed, signature) for signature in signatures):
        raise WrongSignatureError("the signature of the note is wrong")
    return text + "\n"


def _signature_in(line: str) -> tuple[str, bytes]:
    name, _, data = line.removeprefix(_MARK).partition(" ")
    if not line.startswith(_MARK) or not name:
        raise NoteError("not a signature line")
    return name, _from_base64(data)


def _key_digest(name: str, public: bytes) -> bytes:
    return hashlib.sha256(name.encode() + b"\n" + _ED25519 + public).digest()


def _check_name(name: str) -> None:
    if not _NAME.fullmatch(name):
        raise NoteError("a key's name is ASCII without spaces or plus")


def _from_base64(text: str) -> bytes:
    """Decode; a text that is not the one way to write its bytes is refused."""
    try:
        data = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError) as error:
        raise NoteError("not base64") from error
    if base64.b64encode(data).decode() != text:
        raise NoteError("not base64")
    return data
