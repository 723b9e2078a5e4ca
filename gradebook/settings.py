"""Everything that differs from one installation to the next, typed."""

import os
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from urllib.parse import urlsplit

from gradebook import clock


@dataclass(frozen=True, slots=True)
class HashCost:
    """Cost of the argon2id hash: passes, memory in KiB, lanes."""

    passes: int = 3
    memory_kib: int = 65536
    lanes: int = 1


FLOOR = HashCost(passes=2, memory_kib=19456)
"""The least the OWASP ASVS 5.0 (appendix C) accepts; for tests and small boards."""


@dataclass(frozen=True, slots=True)
class Settings:
    """One installation. `database` is a SQLAlchemy URL; `key` signs cookies.

    `owner` is the URL of the role that owns the schema, where the application's may not.
    """

    data: Path
    database: str
    key: str
    demo: bool = False
    secure_cookies: bool = False
    hash_cost: HashCost = HashCost()
    now: Callable[[], datetime] = clock.now
    owner: str = ""

    @property
    def owning(self) -> str:
        """The URL to change the schema by."""
        return self.owner or self.database

    @property
    def role(self) -> str:
        """The application's role, where the schema belongs to another; else empty."""
        own, other = urlsplit(self.database).username, urlsplit(self.owning).username
        return own if own and own != other else ""


def key_in(data: Path) -> str:
    """The installation's cookie key, made on first use in a file only its owner can read."""
    path = data / "cookie.key"
    if not path.exists():
        data.mkdir(mode=0o700, parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w") as file:
            file.write(secrets.token_hex(32))
    return path.read_text().strip()


def settings_in(data: Path, *, demo: bool = False) -> Settings:
    """Settings of the school in folder `data`.

    `WINDTEE_DATABASE` (a SQLAlchemy URL) replaces the SQLite file in that folder;
    `WINDTEE_DATABASE_OWNER` (another) is used to change the schema; `WINDTEE_HTTPS=1` marks
    cookies as secure.
    """
    data.mkdir(mode=0o700, parents=True, exist_ok=True)
    fallback = f"sqlite:///{data / 'windtee.db'}"
    return Settings(
        data=data,
        database=os.environ.get("WINDTEE_DATABASE", fallback),
        key=key_in(data),
        demo=demo,
        owner=os.environ.get("WINDTEE_DATABASE_OWNER", ""),
        secure_cookies=os.environ.get("WINDTEE_HTTPS") == "1",
    )
