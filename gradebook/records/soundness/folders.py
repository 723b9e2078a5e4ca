"""The school's folder, its backups and the key that lies in it."""

from collections.abc import Iterator
from datetime import timedelta

from gradebook.records.soundness.facts import Facts, Finding, Folder, HouseKey
from syllabus.saying import say, say_n

BACKUP_EVERY = timedelta(hours=24)
MB = 1_000_000
LEAST_FREE = 500 * MB
LOW_FREE = 10_000 * MB
LOW_SHARE = 0.05
SOME = 3
"""So many open files are named."""


def folder(folder: Folder) -> Iterator[Finding]:
    """Who else reads the folder, and how much room is left."""
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


def backups(facts: Facts) -> Iterator[Finding]:
    """Backups that are open, hold what was erased, or are missing."""
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


def key_in_force(key: HouseKey) -> Iterator[Finding]:
    """A key in the folder that is not the school's."""
    if not key.held:
        yield Finding(
            say("The key in the school's folder is not the one in force"),
            say(
                "Nothing can be signed in the school's name. Put the right school.key back; if "
                "it is lost: windtee key compromised."
            ),
        )


def _some(names: tuple[str, ...]) -> str:
    first = ", ".join(names[:SOME])
    if len(names) <= SOME:
        return first
    return say("{files} and {n} more", files=first, n=len(names) - SOME)
