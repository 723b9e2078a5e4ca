"""Files that wait: uploads between preview and commit, counts and locks of long work.

None of them has to last. What nobody came back for within a day goes at the next sign-in (and
when another file comes or other work begins); an erasure takes all of it at once.
"""

from collections.abc import Iterable, Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from gradebook.records import headway
from gradebook.records.store.jobs import KEPT


def uploaded(data: Path, name: str) -> Path:
    """Where an uploaded file of this name waits; the folder is made when it is not there."""
    return _uploads(data) / name


def sweep(data: Path, at: datetime) -> int:
    """Delete what has waited for longer than a day; how many files that were."""
    return _delete(_all(data), (at - KEPT).timestamp())


def waiting(data: Path) -> int:
    """How many uploaded files wait."""
    return len(list(_uploads(data).iterdir()))


def empty(data: Path) -> int:
    """Delete all that waits, for it may be about anybody; how many files that were."""
    return _delete(_all(data), float("inf"))


def _uploads(data: Path) -> Path:
    folder = data / "imports"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


def _all(data: Path) -> Iterator[Path]:
    yield from _uploads(data).iterdir()
    yield from headway.idle(headway.folder_in(data))


def _delete(paths: Iterable[Path], before: float) -> int:
    """Delete what was last written `before` then, in seconds since 1970 by the files' clock."""
    gone = 0
    for path in list(paths):
        with suppress(FileNotFoundError):  # another process sweeps too
            if path.stat().st_mtime < before:
                path.unlink()
                gone += 1
    return gone
