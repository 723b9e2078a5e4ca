"""Whether an installation keeps what it is given: facts in, findings out. Pure."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from gradebook.formats import span
from syllabus.saying import joined, say, say_n

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
        *_key(facts.key),
        *_needles(facts.needles),
    ]
    return sorted(found, key=lambda one: not one.unsafe)


def described(facts: Facts) -> list[tuple[str, str]]:
    """What was looked at and what it was, in words."""
    storage, folder, serving = facts.storage, facts.folder, facts.serving
    return [
        (say("Database"), _described_storage(storage)),
        (say("File system"), folder.filesystem or say("not known")),
        (
            say("Free space"),
            say("{free} of {size} MB", free=folder.free // MB, size=folder.size // MB),
        ),
        (say("Newest backup"), _stamp(folder.backed_up)),
        (say("Key of the school"), _described_key(facts.key)),
        (say("Names"), ", ".join(serving.hosts)),
        (say("Served by"), "https" if serving.https else "http"),
        (say("Clock"), _stamp(facts.clocks.now)),
        (say("Newest act on file"), _stamp(facts.clocks.newest)),
    ]


def _described_storage(met: Sqlite | Postgres) -> str:
    if isinstance(met, Sqlite):
        level = ("off", "normal", "full", "extra")[met.synchronous]
        return say(
            "SQLite {version}, journal {journal}, synchronous {level}",
            version=met.version,
            journal=met.journal,
            level=level,
        )
    settings = ", ".join(f"{name} {value}" for name, value in met.settings.items())
    return f"PostgreSQL {met.version}, {settings}"


def _described_key(key: HouseKey) -> str:
    if not key.fingerprint:
        return say("none")
    parts = [say("{key}, from entry {since} on", key=key.fingerprint, since=key.since)]
    if key.earlier:
        parts.append(say_n("{n} key before it", "{n} keys before it", key.earlier))
    if key.broken:
        parts.append(say_n("{n} of them compromised", "{n} of them compromised", key.broken))
    return joined("; ", parts)


def _key(key: HouseKey) -> Iterator[Finding]:
    if not key.held:
        yield Finding(
            say("The key in the school's folder is not the one in force"),
            say(
                "Nothing can be signed in the school's name. Put the right school.key back; if "
                "it is lost: windtee key compromised."
            ),
        )


def _stamp(moment: datetime | None) -> str:
    return say("none") if moment is None else f"{moment.astimezone(UTC):%Y-%m-%d %H:%M} UTC"


def _sqlite(met: Sqlite, folder: Folder) -> Iterator[Finding]:
    if not met.race_free and met.journal == "wal":
        yield Finding(
            say(
                "SQLite {version} can lose a commit in its write-ahead log", version=met.version
            ),
            say(
                "Install pysqlite3 0.6.1 or newer beside Windtee (or a Python with SQLite "
                "3.51.3 or newer) and start again."
            ),
        )
    elif not met.race_free:
        yield Finding(
            say(
                "SQLite {version} is old: the slower rollback journal is used",
                version=met.version,
            ),
            say("Nothing is at risk. For more speed install pysqlite3 0.6.1 or newer."),
            unsafe=False,
        )
    if met.synchronous < FULL:
        yield Finding(
            say("SQLite does not wait for the disk"),
            say(
                "Something turned synchronous below FULL: an acknowledged signature can be "
                "lost when the power fails. Start Windtee through its own commands."
            ),
        )
    if folder.filesystem in NETWORK:
        yield Finding(
            say("The database lies on a network file system ({kind})", kind=folder.filesystem),
            say(
                "Locks and flushes cannot be trusted there. Move the folder to a disk of this "
                "machine, or use PostgreSQL (WINDTEE_DATABASE)."
            ),
        )
    if folder.filesystem in MEMORY:
        yield Finding(
            say("The database lies in memory"),
            say(
                "The folder is on {kind} and is gone when the machine stops. "
                "Move it to a disk.",
                kind=folder.filesystem,
            ),
        )


def _postgres(met: Postgres) -> Iterator[Finding]:
    if met.superuser or met.owns_tables:
        yield Finding(
            say("Windtee's PostgreSQL role is a superuser")
            if met.superuser
            else say("Windtee's PostgreSQL role owns the tables"),
            say(
                "Such a role can switch off what keeps records from being changed. Let another "
                "role own the tables, and give Windtee's role SELECT, INSERT and UPDATE alone."
            ),
        )
    for name in KEPT_ON:
        if met.settings.get(name) == "off":
            yield Finding(
                say("PostgreSQL runs with {name} off", name=name),
                say("Switch data checksums on with pg_checksums while the server is stopped.")
                if name == "data_checksums"
                else say(
                    "An acknowledged signature can be lost. Set {name} = on in postgresql.conf "
                    "and reload.",
                    name=name,
                ),
            )


def _folder(folder: Folder) -> Iterator[Finding]:
    if names := folder.open_files:
        yield Finding(
            say("Other accounts of this machine can read the school's folder"),
            say("{files}. Run: chmod -R go= on the folder.", files=_some(names)),
        )
    free, share = folder.free, folder.free / folder.size if folder.size else 0.0
    if free < LEAST_FREE or (share < LOW_SHARE and free < LOW_FREE):
        yield Finding(
            say("{n} MB are free for the school's folder", n=free // MB),
            say("Nothing can be signed on a full disk. Make room, or move the folder."),
            unsafe=free < LEAST_FREE,
        )


def _backup(facts: Facts) -> Iterator[Finding]:
    if facts.folder.open_away:
        yield Finding(
            say("The backup {file} is not sealed", file=facts.folder.open_away),
            say(
                "It lies outside the school's folder, and whoever finds it reads every record. "
                "Make a key with windtee backup-key, and name it with --recipient."
            ),
            unsafe=False,
        )
    if older := facts.folder.older:
        yield Finding(
            say_n(
                "{n} backup still holds records that were erased",
                "{n} backups still hold records that were erased",
                len(older),
            ),
            say(
                "{files}. Make a new backup, then delete these or let them rotate out (windtee "
                "backup --keep), and look for copies in other places. A school restored from "
                "one is not served until they are erased again.",
                files=_some(older),
            ),
            unsafe=False,
        )
    last = facts.folder.backed_up
    if facts.serving.demo or (last is not None and facts.clocks.now - last <= BACKUP_EVERY):
        return
    hours = 0 if last is None else int((facts.clocks.now - last).total_seconds() // 3600)
    yield Finding(
        say("There is no backup")
        if last is None
        else say("The last backup is {n} hours old", n=hours),
        say("Let windtee backup run every night, and carry the files to another place."),
    )


def _serving(serving: Serving) -> Iterator[Finding]:
    if serving.debug:
        yield Finding(say("Debugging is on"), say("Start without FLASK_DEBUG."))
    if serving.demo:
        yield Finding(
            say("This is the demo: its accounts are printed"),
            say("Keep no real records here. Set a school up with windtee setup."),
        )
    elif serving.demo_accounts:
        yield Finding(
            say_n(
                "{n} of the demo's printed accounts can sign in",
                "{n} of the demo's printed accounts can sign in",
                serving.demo_accounts,
            ),
            say("Anyone knows their secret. Under People, take away that they may sign in."),
        )
    abroad = [name for name in serving.hosts if name not in LOOPBACK]
    if abroad and not serving.https:
        yield Finding(
            say("Plain http on {names}", names=", ".join(abroad)),
            say(
                "Whoever shares the network can read secrets and records. Put a proxy with "
                "https in front and set WINDTEE_HTTPS=1 and WINDTEE_PROXIES=1."
            ),
        )


def _clocks(clocks: Clocks) -> Iterator[Finding]:
    if clocks.newest is not None and clocks.newest > clocks.now:
        behind = clocks.newest - clocks.now
        yield Finding(
            say("The clock stands {span} before the newest act on file", span=_span(behind)),
            say(
                "It was set back, or was wrong then. Let the machine take its time from the "
                "network. Order on file does not follow the clock."
            ),
            unsafe=behind > SKEW,
        )
    if clocks.database is not None and abs(clocks.database - clocks.now) > SKEW:
        yield Finding(
            say(
                "The database's clock is {span} off this one",
                span=_span(clocks.database - clocks.now),
            ),
            say("Let both machines take their time from the network."),
        )


def _needles(outdated: int) -> Iterator[Finding]:
    if outdated:
        yield Finding(
            say("Needles are of an earlier arithmetic than this program's"),
            say(
                "They are worked out anew whenever a page asks, which takes longer. Run "
                "windtee upgrade: it renews them."
            ),
            unsafe=False,
        )


def _span(length: timedelta) -> str:
    return span(int(length.total_seconds()))


def _some(names: tuple[str, ...]) -> str:
    first = ", ".join(names[:SOME])
    if len(names) <= SOME:
        return first
    return say("{files} and {n} more", files=first, n=len(names) - SOME)
