"""`windtee key`: the school's own key, shown, changed in order, or declared compromised."""

import argparse
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy.orm import Session

from gradebook.cli.console import say, warn
from gradebook.cli.options import with_data
from gradebook.cli.proving import school_in
from gradebook.ledger.bundle import told
from gradebook.ledger.chain import CUT, MALFORMED, UNKNOWN_KEY
from gradebook.ledger.notes import NoteError, fingerprint
from gradebook.records import checkpoints
from gradebook.records.commands import rekeying
from gradebook.records.commands.rekeying import Compromise, Disowned
from gradebook.records.database import Database
from gradebook.records.faults import InvalidError, TornError
from gradebook.records.pen import vkey_of
from gradebook.records.store import people, schoolkeys
from gradebook.records.store.people import School
from gradebook.settings import NEXT_KEY, Settings, key_in, put_in_force, settings_in

REFUSED = 2
SHOWN = 20
LATER = (
    "Make a backup with --with-keys now, and tell the new fingerprint to whoever compares it: "
    "it is printed on every certified copy from now on.",
    "A server that is running takes the new key up by itself.",
)


def key_options(command: argparse.ArgumentParser) -> None:
    """The acts, and what each takes."""
    acts = command.add_subparsers(required=True, metavar="ACT")
    show = with_data(acts.add_parser("show", help="fingerprints, and where each key signed"))
    show.set_defaults(run=shown)
    rotate = with_data(acts.add_parser("rotate", help="let a new key follow, both signing"))
    rotate.set_defaults(run=rotated)
    broken = acts.add_parser(
        "compromised", help="others may have the key, or it is lost: a new one takes over"
    )
    with_data(broken).set_defaults(run=compromised)
    broken.add_argument(
        "--good-size",
        type=int,
        required=True,
        metavar="N",
        help="how many entries, from the first, are known to be good",
    )
    broken.add_argument("--why", required=True, help="what happened; it stands in the ledger")
    broken.add_argument("--dry-run", action="store_true", help="only tell what it would do")


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a command works."""

    settings: Settings
    database: Database
    school: School

    @property
    def folders(self) -> tuple[Path, ...]:
        """Where checkpoints are kept."""
        return checkpoints.folders(self.settings.data, self.settings.outside)


@contextmanager
def _place(chosen: argparse.Namespace) -> Iterator[_Place | None]:
    settings = settings_in(chosen.data)
    with school_in(settings) as (here, school):
        if school is None or not school.vkey:
            warn("There is no school with a ledger here.")
            yield None
        else:
            yield _Place(settings, here, school)


def shown(chosen: argparse.Namespace) -> int:
    """Print the key in force and those before it."""
    with _place(chosen) as place:
        if place is None:
            return MALFORMED
        with place.database.read() as session:
            line = schoolkeys.succession(session)
        held = vkey_of(place.settings.seed, place.school.origin) == place.school.vkey
        since = line.current.since if line.current else 0
        say(
            f"Key {fingerprint(place.school.vkey)}, in force from entry {since} on.",
            *told(line),
        )
        if not held:
            warn("The school.key in this folder is another one: nothing can be signed with it.")
        return 0 if held else UNKNOWN_KEY


def rotated(chosen: argparse.Namespace) -> int:
    """Let a new key follow the present one."""

    def change(place: _Place, session: Session, new: bytes) -> tuple[str, int]:
        known = checkpoints.newest(place.folders, schoolkeys.succession(session))
        now = place.settings.now()
        row = rekeying.rotate(session, place.settings.seed, new, now, known)
        return row.note, row.size

    with _place(chosen) as place:
        return MALFORMED if place is None else _changed(place, change)


def compromised(chosen: argparse.Namespace) -> int:
    """Let a new key take over from one that others may have."""
    command = Compromise(chosen.good_size, chosen.why)
    with _place(chosen) as place:
        if place is None:
            return MALFORMED
        with place.database.read() as session:
            try:
                found = rekeying.disowned_by(session, command)
            except InvalidError as fault:
                warn(str(fault))
                return REFUSED
        _tell(found)
        return 0 if chosen.dry_run else _changed(place, lambda *at: _disown(command, *at))


def _disown(
    command: Compromise, place: _Place, session: Session, new: bytes
) -> tuple[str, int]:
    line = schoolkeys.succession(session)
    seen = checkpoints.kept(place.folders, line)
    good = [one for one in seen if one.size <= command.good_size]
    known = max(good, key=lambda one: one.size, default=None)
    done = rekeying.disown(session, new, place.settings.now(), command, known)
    if done.checkpoint is None:
        raise RuntimeError("a new key signs a checkpoint")
    return done.checkpoint.note, done.checkpoint.size


def _tell(found: Disowned) -> None:
    if not found.entries:
        say("No entry beyond the good size is signed by the old key.")
        return
    listed = ", ".join(map(str, found.entries[:SHOWN]))
    more = len(found.entries) - SHOWN
    say(
        f"Signed by the old key beyond the good size, believed no more: {listed}"
        + (f" and {more} more." if more > 0 else "."),
        "windtee verify will name them (4). What they said that is true has to be said anew.",
    )
    if found.people:
        say(
            f"{len(found.people)} keys of people end with them: who held one signs in anew "
            "and gets another; a phone is set up anew."
        )


Change = Callable[[_Place, Session, bytes], tuple[str, int]]


def _changed(place: _Place, change: Change) -> int:
    """Make the new key, let the ledger know it, then put it in force; cut off, it resumes."""
    data, school = place.settings.data, place.school
    new = bytes.fromhex(key_in(data, NEXT_KEY))
    if school.vkey == vkey_of(new, school.origin):
        put_in_force(data)
        say("The change that was cut off is finished.", f"Key {fingerprint(school.vkey)}")
        return 0
    try:
        with place.database.write() as session:
            note, size = change(place, session, new)
            line = people.school(session)
            vkey = line.vkey if line else ""
    except InvalidError as fault:
        warn(str(fault))
        return REFUSED
    except (TornError, NoteError) as fault:
        warn(str(fault))
        return CUT if isinstance(fault, TornError) else UNKNOWN_KEY
    put_in_force(data)
    checkpoints.keep(note, size, place.folders)
    say(f"Key {fingerprint(vkey)}, in force from now on.", *LATER, "", note.rstrip())
    return 0
