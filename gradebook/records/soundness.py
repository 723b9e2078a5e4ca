"""Whether an installation keeps what it is given: facts in, findings out. Pure."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from gradebook.formats import span

NETWORK = frozenset(
    {
        "9p", "afs", "beegfs", "ceph", "cifs", "davfs", "fuse.davfs", "fuse.glusterfs",
        "fuse.rclone", "fuse.s3fs", "fuse.sshfs", "glusterfs", "lustre", "ncpfs", "nfs", "nfs4",
        "smb3", "smbfs", "vboxsf",
    }
)  # fmt: skip
"""File systems whose locks and flushes a SQLite file cannot lean on."""

MEMORY = frozenset({"tmpfs", "ramfs"})
FULL = 2
"""`PRAGMA synchronous`: 2 is FULL, 3 is EXTRA."""

SKEW = timedelta(minutes=10)
BACKUP_EVERY = timedelta(hours=24)
MB = 1_000_000
LEAST_FREE = 500 * MB
LOW_FREE = 10_000 * MB
LOW_SHARE = 0.05
SOME = 3
"""So many open files are named."""

LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})
KEPT_ON = ("fsync", "full_page_writes", "synchronous_commit", "data_checksums")


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
    """The school's folder; `filesystem` is "" where the machine does not say."""

    filesystem: str
    open_files: tuple[str, ...]
    free: int
    size: int
    backed_up: datetime | None


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
class Facts:
    """All that is looked at."""

    storage: Sqlite | Postgres
    folder: Folder
    serving: Serving
    clocks: Clocks


def findings(facts: Facts) -> list[Finding]:
    """What is not as it should be, the unsafe first."""
    storage = facts.storage
    found = [
        *(
            _sqlite(storage, facts.folder)
            if isinstance(storage, Sqlite)
            else _postgres(storage)
        ),
        *_folder(facts.folder),
        *_backup(facts),
        *_serving(facts.serving),
        *_clocks(facts.clocks),
    ]
    return sorted(found, key=lambda one: not one.unsafe)


def described(facts: Facts) -> list[tuple[str, str]]:
    """What was looked at and what it was, in words."""
    storage, folder, serving = facts.storage, facts.folder, facts.serving
    return [
        ("Database", _described_storage(storage)),
        ("File system", folder.filesystem or "not known"),
        ("Free space", f"{folder.free // MB} of {folder.size // MB} MB"),
        ("Newest backup", _stamp(folder.backed_up)),
        ("Names", ", ".join(serving.hosts)),
        ("Served by", "https" if serving.https else "http"),
        ("Clock", _stamp(facts.clocks.now)),
        ("Newest act on file", _stamp(facts.clocks.newest)),
    ]


def _described_storage(met: Sqlite | Postgres) -> str:
    if isinstance(met, Sqlite):
        level = ("off", "normal", "full", "extra")[met.synchronous]
        return f"SQLite {met.version}, journal {met.journal}, synchronous {level}"
    settings = ", ".join(f"{name} {value}" for name, value in met.settings.items())
    return f"PostgreSQL {met.version}, {settings}"


def _stamp(moment: datetime | None) -> str:
    return "none" if moment is None else f"{moment.astimezone(UTC):%Y-%m-%d %H:%M} UTC"


def _sqlite(met: Sqlite, folder: Folder) -> Iterator[Finding]:
    if not met.race_free and met.journal == "wal":
        yield Finding(
            f"SQLite {met.version} can lose a commit in its write-ahead log",
            "Install pysqlite3 0.6.1 or newer beside Windtee (or a Python with SQLite 3.51.3 "
            "or newer) and start again.",
        )
    elif not met.race_free:
        yield Finding(
            f"SQLite {met.version} is old: the slower rollback journal is used",
            "Nothing is at risk. For more speed install pysqlite3 0.6.1 or newer.",
            unsafe=False,
        )
    if met.synchronous < FULL:
        yield Finding(
            "SQLite does not wait for the disk",
            "Something turned synchronous below FULL: an acknowledged signature can be lost "
            "when the power fails. Start Windtee through its own commands.",
        )
    if folder.filesystem in NETWORK:
        yield Finding(
            f"The database lies on a network file system ({folder.filesystem})",
            "Locks and flushes cannot be trusted there. Move the folder to a disk of this "
            "machine, or use PostgreSQL (WINDTEE_DATABASE).",
        )
    if folder.filesystem in MEMORY:
        yield Finding(
            "The database lies in memory",
            f"The folder is on {folder.filesystem} and is gone when the machine stops. Move it "
            "to a disk.",
        )


def _postgres(met: Postgres) -> Iterator[Finding]:
    if met.superuser or met.owns_tables:
        power = "is a superuser" if met.superuser else "owns the tables"
        yield Finding(
            f"Windtee's PostgreSQL role {power}",
            "Such a role can switch off what keeps records from being changed. Let another "
            "role own the tables, and give Windtee's role SELECT, INSERT and UPDATE alone.",
        )
    for name in KEPT_ON:
        if met.settings.get(name) == "off":
            yield Finding(
                f"PostgreSQL runs with {name} off",
                "Switch data checksums on with pg_checksums while the server is stopped."
                if name == "data_checksums"
                else f"An acknowledged signature can be lost. Set {name} = on in "
                "postgresql.conf and reload.",
            )


def _folder(folder: Folder) -> Iterator[Finding]:
    if names := folder.open_files:
        more = f" and {len(names) - SOME} more" if len(names) > SOME else ""
        yield Finding(
            "Other accounts of this machine can read the school's folder",
            f"{', '.join(names[:SOME])}{more}. Run: chmod -R go= on the folder.",
        )
    free, share = folder.free, folder.free / folder.size if folder.size else 0.0
    if free < LEAST_FREE or (share < LOW_SHARE and free < LOW_FREE):
        yield Finding(
            f"{free // MB} MB are free for the school's folder",
            "Nothing can be signed on a full disk. Make room, or move the folder.",
            unsafe=free < LEAST_FREE,
        )


def _backup(facts: Facts) -> Iterator[Finding]:
    last = facts.folder.backed_up
    if facts.serving.demo or (last is not None and facts.clocks.now - last <= BACKUP_EVERY):
        return
    hours = 0 if last is None else int((facts.clocks.now - last).total_seconds() // 3600)
    yield Finding(
        "There is no backup" if last is None else f"The last backup is {hours} hours old",
        "Let windtee backup run every night, and carry the files to another place.",
    )


def _serving(serving: Serving) -> Iterator[Finding]:
    if serving.debug:
        yield Finding("Debugging is on", "Start without FLASK_DEBUG.")
    if serving.demo:
        yield Finding(
            "This is the demo: its accounts are printed",
            "Keep no real records here. Set a school up with windtee setup.",
        )
    elif serving.demo_accounts:
        yield Finding(
            f"{serving.demo_accounts} of the demo's printed accounts can sign in",
            "Anyone knows their secret. Under People, take away that they may sign in.",
        )
    abroad = [name for name in serving.hosts if name not in LOOPBACK]
    if abroad and not serving.https:
        yield Finding(
            f"Plain http on {', '.join(abroad)}",
            "Whoever shares the network can read secrets and records. Put a proxy with https "
            "in front and set WINDTEE_HTTPS=1 and WINDTEE_PROXIES=1.",
        )


def _clocks(clocks: Clocks) -> Iterator[Finding]:
    if clocks.newest is not None and clocks.newest > clocks.now:
        behind = clocks.newest - clocks.now
        yield Finding(
            f"The clock stands {_span(behind)} before the newest act on file",
            "It was set back, or was wrong then. Let the machine take its time from the "
            "network. Order on file does not follow the clock.",
            unsafe=behind > SKEW,
        )
    if clocks.database is not None and abs(clocks.database - clocks.now) > SKEW:
        yield Finding(
            f"The database's clock is {_span(clocks.database - clocks.now)} off this one",
            "Let both machines take their time from the network.",
        )


def _span(length: timedelta) -> str:
    return span(int(length.total_seconds()))
