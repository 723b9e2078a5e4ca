"""What is printed beside a copy so that paper and file can be held against each other."""

import base64
import json
import re
import unicodedata
from dataclasses import dataclass
from typing import Any

from gradebook.ledger import notes
from gradebook.ledger.canonical import sha256_hex
from gradebook.ledger.succession import CHANGES, COMPROMISED, OPEN

ROOT_PREFIX = 16
SUFFIX = "windtee-record"


@dataclass(frozen=True, slots=True)
class Seal:
    """The checkpoint of a file, the key's fingerprint, and the SHA-256 of the file itself.

    `earlier` are the fingerprints of keys that gave way to this one in order, newest first.
    """

    origin: str
    size: int
    root: str
    note: str
    fingerprint: str
    sha256: str
    entries: int
    earlier: tuple[str, ...] = ()

    @property
    def code(self) -> str:
        """The words of the square code: format, origin, size, root prefix, SHA-256."""
        words = ("windtee-record/1", self.origin, str(self.size), self.root[:ROOT_PREFIX])
        return "\n".join((*words, self.sha256))


def seal_of(data: bytes) -> Seal:
    """The seal of a file that has been verified."""
    fields: dict[str, Any] = json.loads(data)
    vkey = str(fields["vkey"])
    point = notes.read_checkpoint(notes.open_note(fields["checkpoint"], vkey))
    return Seal(
        origin=point.origin,
        size=point.size,
        root=base64.b64encode(point.root).decode(),
        note=fields["checkpoint"],
        fingerprint=notes.fingerprint(vkey),
        sha256=sha256_hex(data),
        entries=len(fields["entries"]),
        earlier=_earlier(fields, point.origin),
    )


def _earlier(fields: dict[str, Any], origin: str) -> tuple[str, ...]:
    """The keys of the school from which one can follow to the file's."""
    found: list[str] = []
    for item in fields["entries"]:
        said: dict[str, Any] = json.loads(item["statement"] or '{"type": ""}')
        if said["type"] == COMPROMISED:
            found.clear()
        if said["type"] in (OPEN, *CHANGES):
            public = bytes.fromhex(said["body"]["public"])
            found.append(notes.fingerprint(notes.verifier_key(origin, public)))
    return tuple(reversed(found[:-1]))


def file_name(student: str, course: str, day: str) -> str:
    """`ana-lisk-private-helicopter-2026-05-20.windtee-record`: plain letters only."""
    parts = [re.sub(r"[^a-z0-9]+", "-", _plain(one)).strip("-") for one in (student, course)]
    return f"{'-'.join((*(one[:60] or 'copy' for one in parts), day))}.{SUFFIX}"


def _plain(text: str) -> str:
    return unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
