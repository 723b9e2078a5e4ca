"""What a backup says about itself: the first member of its archive."""

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass

FORMAT = "windtee-backup/1"
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

    `checkpoint` is the newest signed note of the ledger at that moment, or empty.
    """

    school: str
    made_at: str
    program: str
    database: str
    revision: str
    rows: Mapping[str, int]
    checkpoint: str
    members: Mapping[str, Member]

    def as_json(self) -> bytes:
        """The manifest as it stands in the archive."""
        return json.dumps({"format": FORMAT, **asdict(self)}, indent=1, sort_keys=True).encode()


def manifest_from(text: bytes) -> Manifest:
    """Read a manifest; BackupError when it is not one of this format."""
    try:
        found = json.loads(text)
        if found.pop("format") != FORMAT:
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
