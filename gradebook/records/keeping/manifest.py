"""What a backup says about itself, signed by the school: the first member of its archive."""

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from gradebook.ledger import keys
from gradebook.ledger.canonical import MalformedError, canonical

FORMAT = "windtee-backup/2"
UNSIGNED = "windtee-backup/1"
"""What backups were before their manifest was signed."""
DOMAIN = b"windtee-backup/2\0"
MEMBER = re.compile(r"database\.(sqlite|dump)|checkpoints/[\w.-]{1,80}\.note|[a-z]{1,20}\.key")
"""The only names a backup may hold beside its manifest."""
DATABASES = {"sqlite": "database.sqlite", "postgresql": "database.dump"}


class BackupError(Exception):
    """A backup cannot be made, or cannot be trusted; the words say why."""


@dataclass(frozen=True, slots=True)
class Member:
    """One file of a backup: bytes, and their SHA-256 in hexadecimal."""

    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """What was backed up: when (UTC), by which program, at which schema, how many rows.

    `checkpoint` is the newest signed note of the ledger at that moment, or empty; `public` the
    key (hex) that signed all this, empty in a backup of the first format.
    """

    school: str
    made_at: str
    program: str
    database: str
    revision: str
    rows: Mapping[str, int]
    checkpoint: str
    members: Mapping[str, Member]
    public: str = ""

    def as_json(self, seed: bytes) -> bytes:
        """The manifest as it stands in the archive, signed with the key of `public`."""
        said = {"format": FORMAT, **asdict(self)}
        signature = keys.sign(seed, DOMAIN + canonical(said)).hex()
        return json.dumps({**said, "signature": signature}, indent=1, sort_keys=True).encode()


def manifest_from(text: bytes) -> Manifest:
    """Read a manifest; BackupError when it is none, or not as the key it names signed it."""
    try:
        found = json.loads(text)
        form = found.pop("format")
        if form == FORMAT:
            _check_signature(found)
        elif form != UNSIGNED or "public" in found:
            raise BackupError("This backup has a format that this program does not know.")
        members = {
            name: Member(int(one["size"]), str(one["sha256"]))
            for name, one in found.pop("members").items()
        }
        rows = {str(name): int(count) for name, count in found.pop("rows").items()}
        manifest = Manifest(members=members, rows=rows, **found)
    except (ValueError, KeyError, TypeError, AttributeError) as fault:
        raise BackupError("The manifest of this backup cannot be read.") from fault
    names = sorted(members)
    if not all(MEMBER.fullmatch(name) for name in names) or any(
        member.size < 0 for member in members.values()
    ):
        raise BackupError("This backup names files that no backup holds.")
    if DATABASES.get(manifest.database) not in members:
        raise BackupError("This backup holds no database.")
    return manifest


def _check_signature(found: dict[str, Any]) -> None:
    signature, public = found.pop("signature"), found["public"]
    try:
        said = canonical({"format": FORMAT, **found})
    except MalformedError as fault:
        raise BackupError("The manifest of this backup cannot be read.") from fault
    if not keys.verify(bytes.fromhex(public), DOMAIN + said, bytes.fromhex(signature)):
        raise BackupError("The manifest of this backup is not what its key signed.")
