"""Everything that differs from one installation to the next, typed."""

import os
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from gradebook import clock


@dataclass(frozen=True, slots=True)
class HashCost:
    """Cost of the argon2id hash: passes, memory in KiB, lanes."""

    passes: int = 3
    memory_kib: int = 65536
    lanes: int = 1

    @property
    def suffices(self) -> bool:
        """Whether this is at or above one of the floors of OWASP ASVS 5.0, appendix C."""
        return any(self.passes >= passes and self.memory_kib >= kib for passes, kib in FLOORS)


FLOORS = ((1, 47104), (2, 19456), (3, 12288))
FLOOR = HashCost(passes=2, memory_kib=19456)
"""For tests and small boards."""


@dataclass(frozen=True, slots=True)
class Settings:
    """One installation. `database` is a SQLAlchemy URL; `key` signs cookies.

    `seed` is the school's signing key (Ed25519); checkpoints are also written to the folders
    `outside`, which should lie on another machine.
    `second_factor`: whether everybody but students has to have one. `signatures`: how many
    are taken from one person in five minutes.
    """

    data: Path
    database: str
    key: str
    seed: bytes = b""
    outside: tuple[Path, ...] = ()
    demo: bool = False
    secure_cookies: bool = False
    second_factor: bool = True
    signatures: int = 10
    hash_cost: HashCost = HashCost()
    now: Callable[[], datetime] = clock.now


COOKIE_KEY, SCHOOL_KEY = "cookie.key", "school.key"


def key_in(data: Path, name: str = COOKIE_KEY) -> str:
    """A key of the installation, made on first use in a file only its owner can read."""
    path = data / name
    if not path.exists():
        data.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w") as file:
            file.write(secrets.token_hex(32))
    return path.read_text().strip()


def settings_in(data: Path, *, demo: bool = False) -> Settings:
    """Settings of the school in folder `data`.

    `WINDTEE_DATABASE` (a SQLAlchemy URL) replaces the SQLite file in that folder;
    `WINDTEE_HTTPS=1` marks cookies as secure; `WINDTEE_CHECKPOINTS` names more folders for
    checkpoints, separated as in PATH.
    """
    data.mkdir(parents=True, exist_ok=True)
    folders = os.environ.get("WINDTEE_CHECKPOINTS", "")
    fallback = f"sqlite:///{data / 'windtee.db'}"
    return Settings(
        data=data,
        database=os.environ.get("WINDTEE_DATABASE", fallback),
        key=key_in(data),
        seed=bytes.fromhex(key_in(data, SCHOOL_KEY)),
        outside=tuple(Path(one) for one in folders.split(os.pathsep) if one),
        demo=demo,
        second_factor=not demo,
        secure_cookies=os.environ.get("WINDTEE_HTTPS") == "1",
    )
