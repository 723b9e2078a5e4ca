"""Checkpoints that leave the database: files, one each, in every folder named for them."""

import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from gradebook.ledger import notes
from gradebook.ledger.canonical import MalformedError, parse
from gradebook.ledger.notes import Checkpoint

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
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / f"{size:012d}.note"
        unfinished = path.with_suffix(".part")
        with unfinished.open("w") as file:
            file.write(note)
            file.flush()
            os.fsync(file.fileno())
        unfinished.replace(path)


def kept(places: Sequence[Path], vkey: str) -> Iterator[Checkpoint]:
    """Every checkpoint found, its signature checked; NoteError for one that is not ours."""
    for path in files_in(*places):
        yield read(path.read_text(), vkey)


def newest(places: Sequence[Path], vkey: str) -> Checkpoint | None:
    """The checkpoint over most entries among those kept; None where there is none."""
    last = [path for folder in places for path in files_in(folder)[-1:]]
    found = [read(path.read_text(), vkey) for path in last]
    return max(found, key=lambda one: one.size, default=None)


def read(note: str, vkey: str) -> Checkpoint:
    """One checkpoint, by itself or in a receipt, if the key signed it; NoteError if not."""
    if note.startswith("{"):
        note = _inside(note)
    return notes.read_checkpoint(notes.open_note(note, vkey))


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
