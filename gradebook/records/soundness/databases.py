"""What the database it is kept in does with an acknowledged commit."""

from collections.abc import Iterator

from gradebook.records.soundness.facts import KEPT_ON, Finding, Folder, Postgres, Sqlite
from syllabus.saying import say

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


def sqlite(met: Sqlite, folder: Folder) -> Iterator[Finding]:
    """What SQLite, and the disk under it, cannot promise."""
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


def postgres(met: Postgres) -> Iterator[Finding]:
    """What PostgreSQL's role and settings cannot promise."""
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
