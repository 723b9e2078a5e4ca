"""Scratch folders that no crash leaves behind for long."""

import fcntl
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

PREFIX = ".windtee-scratch-"


@contextmanager
def scratch_in(folder: Path) -> Iterator[Path]:
    """A new folder inside `folder`, removed at the end.

    It is locked while its maker lives; what killed makers left is removed by the next one.
    """
    with _lock(folder, wait=True):
        for left in folder.glob(f"{PREFIX}*"):
            with _lock(left, wait=False) as dead:
                if dead:
                    shutil.rmtree(left)
        scratch = Path(tempfile.mkdtemp(prefix=PREFIX, dir=folder))
        held = os.open(scratch, os.O_RDONLY)
        fcntl.flock(held, fcntl.LOCK_EX)
    try:
        yield scratch
    finally:
        shutil.rmtree(scratch, ignore_errors=True)
        os.close(held)


@contextmanager
def _lock(folder: Path, *, wait: bool) -> Iterator[bool]:
    """Whether the folder's lock is ours until the block ends; always, when we wait for it."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except BlockingIOError:
        yield False
    else:
        yield True
    finally:
        os.close(descriptor)
