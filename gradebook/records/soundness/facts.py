"""What is looked at in an installation, and what a finding is."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

KEPT_ON = ("fsync", "full_page_writes", "synchronous_commit", "data_checksums")
"""PostgreSQL's settings on which an acknowledged commit leans."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What is not as it should be and what to do; `unsafe`: records can be lost or read."""

    title: str
    remedy: str
    unsafe: bool = True


@dataclass(frozen=True, slots=True)
class Sqlite:
    """How SQLite was met: `race_free` says whether its write-ahead log is free of the race."""

    version: str
    race_free: bool
    journal: str
    synchronous: int


@dataclass(frozen=True, slots=True)
class Postgres:
    """How PostgreSQL was met: what its role may, and its settings by name."""

    version: str
    superuser: bool
    owns_tables: bool
    settings: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Folder:
    """The school's folder; `filesystem` is "" where the machine does not say.

    `open_away` is the newest backup written outside the folder, when it is not sealed;
    `older` are the backups within it from before the last erasure.
    """

    filesystem: str
    open_files: tuple[str, ...]
    free: int
    size: int
    backed_up: datetime | None
    open_away: str = ""
    older: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Serving:
    """How it is served: by which names, by https, with Flask's debugging on."""

    hosts: tuple[str, ...]
    https: bool
    debug: bool
    demo: bool
    demo_accounts: int


@dataclass(frozen=True, slots=True)
class Clocks:
    """Our clock, the database server's, and the newest act on file."""

    now: datetime
    database: datetime | None
    newest: datetime | None


@dataclass(frozen=True, slots=True)
class HouseKey:
    """The school's own key: fingerprint, first entry it may sign, how many came before it.

    `held`: whether the key in the folder is this one. `broken`: how many were compromised.
    """

    fingerprint: str = ""
    since: int = 0
    earlier: int = 0
    broken: int = 0
    held: bool = True


@dataclass(frozen=True, slots=True)
class Facts:
    """All that is looked at; `needles`: how many are of an earlier arithmetic."""

    storage: Sqlite | Postgres
    folder: Folder
    serving: Serving
    clocks: Clocks
    key: HouseKey = HouseKey()
    needles: int = 0
