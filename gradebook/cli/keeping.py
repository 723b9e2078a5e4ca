"""`windtee backup`, `restore`, `drill`: a school's data, kept safe."""

import argparse
import os
from dataclasses import replace
from pathlib import Path

from gradebook import clock
from gradebook.cli.console import headway, say, warn
from gradebook.cli.opened import opened
from gradebook.cli.options import with_data
from gradebook.ledger.keys import kid
from gradebook.records import checkpoints
from gradebook.records.keeping import backup as backups
from gradebook.records.keeping import drill as drills
from gradebook.records.keeping import marks, sealing
from gradebook.records.keeping import restore as restoring
from gradebook.records.keeping.manifest import BackupError
from gradebook.records.schema import SchemaError
from gradebook.settings import Settings, settings_in

UNSIGNED = "Nobody signed its manifest."


def backup(chosen: argparse.Namespace) -> int:
    """Write one file that holds the school; its name, or 1 and why not."""
    settings = settings_in(chosen.data)
    folder = chosen.to or backups.folder_in(chosen.data)
    try:
        sealed_for = sealing.recipient_of(chosen.recipient) if chosen.recipient else None
        with opened(settings) as database, headway() as tell:
            wanted = backups.Wanted(folder, chosen.with_keys, chosen.keep, sealed_for, tell)
            made = backups.back_up(settings, database, wanted)
    except BackupError as refusal:
        warn(str(refusal))
        return 1
    say(f"{made} ({made.stat().st_size} bytes).")
    if not chosen.with_keys:
        say("Private keys are not in it: keep them in another place.")
    if wanted.sealed_for is None and chosen.to:
        say("It is not sealed: whoever finds it can read it (--recipient seals it).")
    return 0


def backup_key(chosen: argparse.Namespace) -> int:
    """Make the key that opens sealed backups; print its public half."""
    try:
        made = sealing.new_identity(chosen.file)
    except OSError as refusal:
        warn(f"{chosen.file} cannot be written: {refusal.strerror}")
        return 1
    say(
        f"{chosen.file} opens what is sealed for it: keep it away from this machine, twice.",
        "Without it no sealed backup can be restored, by nobody. Seal backups with",
        f"    windtee backup --to DIR --recipient {made.recipient.line}",
    )
    return 0


def _identity(chosen: argparse.Namespace) -> sealing.Identity | None:
    return sealing.identity_in(chosen.key_file) if chosen.key_file else None


def restore(chosen: argparse.Namespace) -> int:
    """Restore a backup into an empty folder and say what it is worth.

    0 all is well, 1 not restored, 2 content differs, 3 the ledger has shrunk.
    """
    try:
        checkpoint = chosen.checkpoint.read_text() if chosen.checkpoint else ""
        given = os.environ.get("WINDTEE_DATABASE", "")
        place = Settings(
            chosen.data, given, "", owner=os.environ.get("WINDTEE_DATABASE_OWNER", "")
        )
        wanted = restoring.Wanted(
            *(chosen.file, chosen.data, place.owning, checkpoint, place.role),
            notices=_notices(chosen),
            identity=_identity(chosen),
            unsigned=chosen.unsigned,
        )
        with headway() as tell:
            found = restoring.restore(replace(wanted, tell=tell), clock.now)
    except (BackupError, SchemaError, OSError) as refusal:
        warn(str(refusal))
        return 1
    _report(found)
    say(f"Restored into {chosen.data}.")
    return found.code


def _notices(chosen: argparse.Namespace) -> tuple[Path, ...]:
    """Where notices of erasures may lie: as named, where checkpoints go, beside the backup."""
    named = os.environ.get("WINDTEE_CHECKPOINTS", "").split(os.pathsep)
    beside = chosen.file.resolve().parent
    return (
        *chosen.erasures,
        *(Path(one) for one in named if one),
        beside,
        *checkpoints.folders(beside.parent),
    )


def _report(found: restoring.Findings) -> None:
    """Every count that should be nought, and what stands behind those that are not."""
    made = found.manifest
    rows = sum(made.rows.values())
    say(f"{made.school}, backed up {made.made_at} by {made.program} at schema {made.revision}.")
    say(f"Signed by the key {kid(bytes.fromhex(made.public))}." if made.public else UNSIGNED)
    say(f"{len(made.rows)} tables and {rows} rows: {len(found.differing)} tables differ.")
    say(f"{len(found.guards)} guards differ.")
    say(f"{found.signed} entries of the ledger: {len(found.altered)} things not as signed.")
    say(f"{len(found.lacking)} entries of the ledger lacking.")
    if found.erased_again:
        say(f"{found.erased_again} erasures made since were done again.")
    warn(*found.differing, *found.guards, *found.altered)
    if found.lacking:
        warn(f"The ledger has shrunk: lacking are the entries {marks.ranges(found.lacking)}.")


def drill(chosen: argparse.Namespace) -> int:
    """Prove that the newest backup can be restored; 0 only when everything is right."""
    settings = settings_in(chosen.data)
    try:
        with opened(settings) as database, headway() as tell:
            done = drills.drill(settings, database, chosen.of, _identity(chosen), tell)
    except (BackupError, SchemaError, OSError) as refusal:
        warn(str(refusal))
        return 1
    say(f"Drill with {done.file.name}.")
    _report(done.findings)
    say(f"{len(done.gone)} tables of the school hold fewer rows than the backup.")
    warn(*done.gone)
    if done.parted:
        warn("The backup's ledger is not the beginning of the school's: one of them is forged.")
    say("The backup can be relied on." if done.code == 0 else "The drill failed.")
    return done.code


def backup_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    with_data(command)
    command.add_argument("--to", type=Path, metavar="DIR", help="folder (default DATA/backups)")
    command.add_argument("--with-keys", action="store_true", help="private keys too")
    command.add_argument(
        "--keep", type=_count, default=0, metavar="N", help="keep the newest N"
    )
    command.add_argument("--recipient", default="", metavar="KEY", help="seal it for this key")
    command.set_defaults(run=backup)


def backup_key_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    command.add_argument("file", type=Path, help="where to write it: keep it elsewhere")
    command.set_defaults(run=backup_key)


def restore_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    with_data(command)
    command.add_argument("file", type=Path, help="the backup")
    command.add_argument(
        "--checkpoint", type=Path, metavar="FILE", help="a checkpoint it must live up to"
    )
    command.add_argument(
        "--unsigned", action="store_true", help="take one from before backups were signed"
    )
    command.add_argument(
        "--erasures", type=Path, action="append", default=[], metavar="DIR",
        help="a folder with notices of erasures made since",
    )  # fmt: skip
    _with_key(command).set_defaults(run=restore)


def drill_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    with_data(command)
    command.add_argument("--of", type=Path, metavar="DIR", help="folder (default DATA/backups)")
    _with_key(command).set_defaults(run=drill)


def _with_key(command: argparse.ArgumentParser) -> argparse.ArgumentParser:
    command.add_argument("--key-file", type=Path, metavar="FILE", help="opens a sealed backup")
    return command


def _count(text: str) -> int:
    number = int(text)
    if number < 1:
        raise argparse.ArgumentTypeError("at least 1")
    return number
