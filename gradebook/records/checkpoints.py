"""Checkpoints that leave the database: files, one each, in every folder named for them."""

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from gradebook.ledger import notes
from gradebook.ledger.canonical import MalformedError, parse
from gradebook.ledger.notes import Checkpoint, NoteError
from gradebook.ledger.succession import DisownedError, Succession
from gradebook.paths import to_disk
from gradebook.records.faults import TornError
from syllabus.saying import say

FOLDER = "checkpoints"


def folders(data: Path, outside: Sequence[Path] = ()) -> tuple[Path, ...]:
    """Where checkpoints are kept: in the school's folder, and wherever else was named."""
    return (data / FOLDER, *outside)


def files_in(*places: Path) -> list[Path]:
    """The files of checkpoints in these folders, in each the shortest ledger first."""
    return [path for folder in places for path in sorted(folder.glob("*.note"))]


def keep(note: str, size: int, places: Sequence[Path]) -> None:
    """Write a checkpoint to every folder, whole or not at all."""
    for folder in places:
        write_whole(folder / f"{size:012d}.note", note.encode())


def write_whole(path: Path, data: bytes) -> None:
    """Write a file, with its folder, whole or not at all, and to the disk."""
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(".part")
    with unfinished.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    unfinished.replace(path)
    to_disk(path.parent)


def kept(places: Sequence[Path], line: Succession) -> Iterator[Checkpoint]:
    """Every checkpoint found, its signature checked; NoteError for one that is not ours.

    What a compromised key signed beyond its good size says nothing and is passed over.
    """
    for path in files_in(*places):
        with suppress(DisownedError):
            yield read(path.read_text(), line)


def seen_by(note: str, own: bytes, line: Succession) -> bool:
    """Whether the school's own key signed a checkpoint that its ledger has no key for.

    `own` is the public key on this machine. Then the ledger is older than the change to it.
    """
    if any(one.public == own for one in line.keys):
        return False
    later = Succession(origin=line.origin)
    later.begin(own)
    try:
        return bool(read(note, later))
    except notes.NoteError:
        return False


def newest(places: Sequence[Path], line: Succession) -> Checkpoint | None:
    """The checkpoint over most entries among those kept; None where there is none."""
    last = (next(_backwards(folder, line), None) for folder in places)
    return max((one for one in last if one), key=lambda one: one.size, default=None)


def _backwards(folder: Path, line: Succession) -> Iterator[Checkpoint]:
    """The checkpoints of one folder, the longest ledger first."""
    for path in reversed(files_in(folder)):
        with suppress(DisownedError):
            yield read(path.read_text(), line)


def read(note: str, line: Succession) -> Checkpoint:
    """One checkpoint, alone or in a receipt, that a key in force signed; NoteError if not."""
    return line.open(_inside(note) if note.startswith("{") else note)


@contextmanager
def ours() -> Iterator[None]:
    """Tell whoever asked, by TornError, of a file here that this school did not sign."""
    try:
        yield
    except NoteError as fault:
        raise TornError(
            say("A checkpoint kept outside is not this school's: {fault}.", fault=fault)
        ) from fault


def _inside(receipt: str) -> str:
    """The note in a receipt."""
    try:
        read = parse(receipt)
    except MalformedError as fault:
        raise notes.NoteError(f"this receipt cannot be read: {fault}") from fault
    if not isinstance(read, dict) or not isinstance(read.get("checkpoint"), str):
        raise notes.NoteError("this is neither a checkpoint nor a receipt")
    note: str = read["checkpoint"]
    return note
