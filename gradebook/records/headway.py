"""How far long work is, and whether anybody is at it: two small files a job.

Not rows, for while an import's single transaction is open nobody else can write to a SQLite
database. Whoever works holds a lock on `ID.lock`, which the system takes back when that process
ends, however it ends: a job without its lock is not being worked on, whatever a clock says. The
count is `ID.count`, replaced as a whole. Nothing here has to survive: what came of the work is
in the database.
"""

import fcntl
import json
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from time import monotonic

from gradebook.records.faults import ConflictError
from gradebook.records.jobs import Count
from syllabus.saying import say

EVERY_SECONDS = 0.25
"""How often a count is shown at most."""
LOCK, COUNT = ".lock", ".count"
TURN = "turn"


def folder_in(data: Path) -> Path:
    """Where counts and locks lie; made when it is not there."""
    folder = data / "jobs"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


@contextmanager
def held(folder: Path, job_id: str) -> Iterator[int]:
    """Hold a job's lock; its descriptor, which a child process may inherit and so hold on.

    ConflictError while another process holds it.
    """
    lock = os.open(folder / f"{job_id}{LOCK}", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as fault:
            raise ConflictError(say("This work is under way already.")) from fault
        os.utime(lock)  # so that its age is that of the last beginning
        yield lock
    finally:
        os.close(lock)


def is_held(folder: Path, job_id: str) -> bool:
    """Whether some process is at a job now."""
    try:
        lock = os.open(folder / f"{job_id}{LOCK}", os.O_RDWR)
    except FileNotFoundError:
        return False
    try:
        fcntl.flock(lock, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    finally:
        os.close(lock)
    return False


@contextmanager
def in_turn(folder: Path) -> Iterator[None]:
    """Wait until no other long work is being done here, and keep others waiting."""
    turn = os.open(folder / TURN, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(turn, fcntl.LOCK_EX)
        yield
    finally:
        os.close(turn)


class Teller:
    """Shows a count; to be called with a step, how many are done, of how many."""

    def __init__(self, show: Callable[[Count], None]) -> None:
        self._show, self._step, self._last = show, "", 0.0

    def __call__(self, step: str, done: int, total: int) -> None:
        """Show the count, not more often than anybody looks; each new step at once."""
        now = monotonic()
        if step == self._step and now - self._last < EVERY_SECONDS:
            return
        self._step, self._last = step, now
        self._show(Count(step, done, total))


def teller(folder: Path, job_id: str) -> Teller:
    """Writes a job's count down."""
    file = folder / f"{job_id}{COUNT}"

    def write(now: Count) -> None:
        unfinished = file.with_suffix(".part")
        unfinished.write_text(json.dumps([now.step, now.done, now.total]))
        unfinished.replace(file)

    return Teller(write)


def count_of(folder: Path, job_id: str) -> Count:
    """How far a job is, as last told."""
    try:
        return Count(*json.loads((folder / f"{job_id}{COUNT}").read_text()))
    except (OSError, ValueError):
        return Count("begin")


def idle(folder: Path) -> Iterator[Path]:
    """The files of jobs that nobody is at."""
    for path in folder.iterdir():
        if path.name != TURN and not is_held(folder, path.stem):
            yield path


def let_go(folder: Path, job_id: str) -> None:
    """Take away the files of a job that did not begin."""
    for suffix in (COUNT, LOCK):
        (folder / f"{job_id}{suffix}").unlink(missing_ok=True)
