"""`windtee erase`: carry out what two people signed, and leave nothing of it in the files."""

import argparse
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError

from gradebook.cli.console import say, warn
from gradebook.cli.opened import opened
from gradebook.cli.options import with_data
from gradebook.ledger.notes import Checkpoint, NoteError
from gradebook.records import checkpoints, schema
from gradebook.records.commands import carrying
from gradebook.records.commands.destroying import ErasingError
from gradebook.records.database import open_engine
from gradebook.records.faults import TornError, UnknownError
from gradebook.records.keeping import backup, erasures
from gradebook.records.keeping.upgrading import refusal
from gradebook.records.store import people, schoolkeys
from gradebook.records.store.erasing import StrayError
from gradebook.records.working import waiting
from gradebook.settings import Settings, settings_in

REFUSALS = (ErasingError, StrayError, TornError, NoteError, UnknownError, schema.SchemaError)


def erase_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    with_data(command)
    command.add_argument("--dry-run", action="store_true", help="only tell what would be done")
    command.add_argument(
        "--backups", type=Path, action="append", default=[], metavar="DIR",
        help="another folder of backups to name those that still hold it",
    )  # fmt: skip
    command.set_defaults(run=erase)


def erase(chosen: argparse.Namespace) -> int:
    """Carry out confirmed requests, erase again what a restored copy brought back, sweep.

    0 when nothing is left to do, 1 when something was refused, and then nothing of it is done.
    """
    try:
        return _as_owner(settings_in(chosen.data), chosen)
    except REFUSALS as fault:
        warn(str(fault) or "There is no such record.", "Nothing was erased by this step.")
        return 1


def _as_owner(settings: Settings, chosen: argparse.Namespace) -> int:
    engine = open_engine(settings.owning)
    try:
        schema.check(engine)
        return _erase(settings, engine, chosen)
    except DBAPIError as fault:
        raise refusal(fault, engine.url.username) from fault
    finally:
        engine.dispose()


def _erase(settings: Settings, engine: Engine, chosen: argparse.Namespace) -> int:
    places = checkpoints.folders(settings.data, settings.outside)
    with opened(settings) as here:
        with here.read() as session:
            school = people.school(session)
            line = schoolkeys.succession(session)
            names = [row.id for row in carrying.waiting(session)]
        if school is None or not school.vkey:
            warn("There is no school with a ledger here.")
            return 1
        if chosen.dry_run:
            _announce(settings, names)
            return 0
        known = list(checkpoints.kept(places, line))
        again = erasures.erase_again(engine, places, settings.now())
        if again:
            say(f"{again} erasures were done again: a restored copy had brought records back.")
        for name in names:
            _carry_out(settings, engine, name, known)
        with here.read() as session:
            erasures.keep_notices(session, places)
            left = erasures.unswept(session)
        if left or again:
            _empty(settings)
        if left:
            erasures.sweep(engine)
            erasures.note_swept(here, settings.now())
        if not (names or again or left):
            say("Nothing waits to be erased.")
        with here.read() as session:
            folders = [backup.folder_in(settings.data), *chosen.backups]
            _tell_backups(erasures.older_backups(session, folders))
    return 0


def _announce(settings: Settings, names: list[str]) -> None:
    say(f"{len(names)} requests would be carried out: {', '.join(names) or 'none'}.")
    if names:
        say(f"{waiting.waiting(settings.data)} uploaded files that wait would go too.")


def _carry_out(settings: Settings, engine: Engine, name: str, known: list[Checkpoint]) -> None:
    done = carrying.carry_out(
        engine, carrying.House(settings.seed, known), name, settings.now()
    )
    if done.checkpoint is not None:
        row, places = done.checkpoint, checkpoints.folders(settings.data, settings.outside)
        checkpoints.keep(row.note, row.size, places)
    rows = sum(done.erasure.rows.values())
    say(
        f"Request {name}: erased by entry {done.erasure.seq}: {len(done.erasure.entries)} "
        f"statements, {rows} rows, {len(done.erasure.events)} audit events. "
        "The ledger was proved before it was committed."
    )


def _empty(settings: Settings) -> None:
    files = waiting.empty(settings.data)
    say(
        f"{files} files deleted that waited to be imported or told of long work, whoever they "
        "were about; what was not imported yet has to be chosen again."
        if files
        else "No file waited to be imported, and none told of long work."
    )


def _tell_backups(older: erasures.Older | None) -> None:
    if older is None or not older.files:
        return
    warn(
        f"{len(older.files)} backups from before {older.since:%Y-%m-%d %H:%M} UTC still hold "
        "what was erased. Make a new one, then let them rotate out (windtee backup --keep N) "
        "or delete them; look for copies elsewhere too:",
        *(f"  {path}" for path in older.files),
    )
