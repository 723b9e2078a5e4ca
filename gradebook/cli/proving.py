"""`windtee verify` and `windtee checkpoint`: convincing somebody who was not there."""

import argparse
import gc
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from gradebook.cli import mailing
from gradebook.cli.console import headway, say, warn
from gradebook.cli.opened import opened
from gradebook.cli.options import with_data
from gradebook.ledger import keys, notes
from gradebook.ledger.bundle import is_trusted, told, verify_bundle
from gradebook.ledger.bundle_file import LARGEST_FILE
from gradebook.ledger.chain import CUT, MALFORMED, UNKNOWN_KEY, Finding
from gradebook.ledger.notes import Checkpoint, NoteError
from gradebook.ledger.succession import DisownedError, Succession
from gradebook.records import checkpoints
from gradebook.records.ahead import reading_ahead
from gradebook.records.commands import checkpointing, founding
from gradebook.records.database import Database
from gradebook.records.faults import TornError
from gradebook.records.pen import house_of
from gradebook.records.permissions import Action
from gradebook.records.store import people, proof, schoolkeys
from gradebook.records.store.people import School
from gradebook.settings import Settings, settings_in

VERDICTS = {
    0: "Good: everything is as it was signed.",
    2: "Altered: something is not what was signed.",
    3: "Torn: entries are missing, or the ledger is not the one the checkpoint saw.",
    4: "Unknown key: something is signed by a key that may not.",
    5: "Unreadable: this is not what it claims to be.",
    6: "Outdated: a record that was superseded is shown as current.",
}
OLDER = (
    "a checkpoint signed by the school.key of this folder, of which the ledger does not know: "
    "the ledger is older than the change to that key."
)
MOST_FINDINGS = 50


def verify_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    with_data(command)
    command.add_argument("file", type=Path, nargs="?", help="a portable record to judge alone")
    command.add_argument("--key", metavar="FINGERPRINT", help="of the school, from paper")
    command.add_argument("--checkpoint", type=Path, help="a checkpoint kept elsewhere")
    command.set_defaults(run=verified)


def checkpoint_options(command: argparse.ArgumentParser) -> None:
    """What it takes."""
    with_data(command)
    command.add_argument("--to", type=Path, help="also write it to this folder")
    command.add_argument("--mail", metavar="ADDRESS", help="also mail it, through WINDTEE_MAIL")
    command.set_defaults(run=checkpoint)


def verified(chosen: argparse.Namespace) -> int:
    """Prove a portable record where one is named, else the whole database."""
    return database(chosen) if chosen.file is None else record(chosen.file, chosen.key)


def record(path: Path, key: str | None) -> int:
    """Judge one portable record, which needs no school, no database and no network.

    The exit code is the verdict. `key` is the school's fingerprint or key line, from paper.
    """
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except OSError as fault:
        warn(f"{path} cannot be read: {fault.strerror}.")
        return MALFORMED
    if data.startswith(b"%PDF"):
        warn("This is a PDF, a picture: save the file attached to it (.windtee-record).")
        return MALFORMED
    verdict = verify_bundle(data, key)
    say(verdict.line, *verdict.details)
    return verdict.code


@contextmanager
def school_in(settings: Settings) -> Iterator[tuple[Database, School | None]]:
    """The database and its school."""
    with opened(settings) as here:
        with here.read() as session:
            found = people.school(session)
        yield here, found


def database(chosen: argparse.Namespace) -> int:
    """Prove the whole database; the exit code is the verdict."""
    settings = settings_in(chosen.data)
    with school_in(settings) as (here, school):
        if school is None or not school.vkey:
            warn("There is no school with a ledger here.")
            return MALFORMED
        with here.read() as session:
            line = schoolkeys.succession(session)
        try:
            trusted = _trusted(chosen.key, school, line)
            outside, strange = _told_apart(chosen, settings, line)
        except (NoteError, OSError, UnicodeDecodeError) as fault:
            warn(f"The key or checkpoint cannot be used: {fault}.")
            return UNKNOWN_KEY
        with here.read() as session, headway() as tell, _uncollected():
            found = proof.prove(session, trusted, outside, tell, reading_ahead)
        found.findings += strange
        _note_run(here, settings, found)
    for finding in found.findings[:MOST_FINDINGS]:
        warn(finding.words)
    if len(found.findings) > MOST_FINDINGS:
        warn(f"... and {len(found.findings) - MOST_FINDINGS} more.")
    say(
        f"{found.size} entries, {found.rows} rows, {found.events} audit events, "
        f"{found.checkpoints} checkpoints compared.",
        *_erased(found),
        f"Key {notes.fingerprint(school.vkey)}",
        *told(line),
        VERDICTS[found.code],
    )
    return found.code


@contextmanager
def _uncollected() -> Iterator[None]:
    """Without the search for circles, which looks through all that is read over and over."""
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()


def _trusted(key: str | None, school: School, line: Succession) -> str:
    """The line of the key trusted: the present one, or that of a fingerprint; NoteError."""
    if key is None:
        return school.vkey
    found = [line.line_of(one) for one in line.keys]
    fitting = [one for one in found if is_trusted(one, key)]
    if not fitting:
        raise NoteError("the fingerprint is none of this ledger's keys")
    return fitting[-1]


def _erased(found: proof.Proof) -> Iterator[str]:
    """What was erased, and by which entry: that is not altered."""
    counts = Counter(one.seq for one in found.erased.values())
    for seq, number in sorted(counts.items()):
        yield f"{number} entries erased (by entry {seq})."


def outside_of(
    chosen: argparse.Namespace, settings: Settings, line: Succession
) -> Sequence[Checkpoint]:
    """The checkpoint given, or else all that were kept outside the database."""
    if chosen.checkpoint is not None:
        return [checkpoints.read(chosen.checkpoint.read_text(), line)]
    return list(checkpoints.kept(checkpoints.folders(settings.data, settings.outside), line))


def _told_apart(
    chosen: argparse.Namespace, settings: Settings, line: Succession
) -> tuple[list[Checkpoint], list[Finding]]:
    """What outside_of reads, and what is found of those that no key of the ledger signed."""
    held, strange, own = list[Checkpoint](), list[Finding](), keys.public_of(settings.seed)
    kept = checkpoints.files_in(*checkpoints.folders(settings.data, settings.outside))
    for path in kept if chosen.checkpoint is None else [chosen.checkpoint]:
        note = path.read_text()
        try:
            held.append(checkpoints.read(note, line))
        except DisownedError:
            if chosen.checkpoint is not None:
                raise
        except NoteError as fault:
            if checkpoints.seen_by(note, own, line):
                strange.append(Finding(CUT, None, f"{path.name}: {OLDER}"))
            elif chosen.checkpoint is not None:
                raise
            else:
                words = f"{path.name}: it is not this school's: {fault}."
                strange.append(Finding(UNKNOWN_KEY, None, words))
    return held, strange


def _note_run(here: Database, settings: Settings, found: proof.Proof) -> None:
    """Put the result on the audit trail: an inspector asks when this was last done.

    A trail that cannot go on is told of instead: what was found has to be heard all the more.
    """
    try:
        with here.write() as session:
            act = founding.server_act(session, settings.seed, settings.now())
            act.note(Action.AUDIT_READ, None, verified=found.size, findings=len(found.findings))
    except TornError as fault:
        warn(f"This run is not on the audit trail: {fault}")


def checkpoint(chosen: argparse.Namespace) -> int:
    """Issue a checkpoint, print it and keep it; 3 when the ledger lost what one covered."""
    settings = settings_in(chosen.data)
    places = checkpoints.folders(settings.data, settings.outside)
    places += (chosen.to,) if chosen.to else ()
    with school_in(settings) as (here, school):
        if school is None or not school.vkey:
            warn("There is no school with a ledger here.")
            return MALFORMED
        try:
            with here.read() as session:
                known = checkpoints.newest(places, schoolkeys.succession(session))
            with here.write() as session:
                row = checkpointing.issue(
                    session, house_of(settings.seed), settings.now(), known
                )
        except TornError as fault:
            warn(str(fault))
            return CUT
        except NoteError as fault:
            warn(f"A checkpoint kept outside is not this school's: {fault}.")
            return UNKNOWN_KEY
    checkpoints.keep(row.note, row.size, places)
    say(row.note.rstrip())
    return _mail(chosen.mail, settings, row.note) if chosen.mail else 0


def _mail(address: str, settings: Settings, note: str) -> int:
    """Mail the note; 1 and why when it cannot be sent."""
    try:
        mailing.send(settings.mail, address, "Windtee checkpoint: keep this", note)
    except mailing.MailError as fault:
        warn(str(fault))
        return 1
    say(f"Mailed to {address}.")
    return 0
