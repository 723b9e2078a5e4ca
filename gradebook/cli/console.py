"""What a command says, and where."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from gradebook.records.headway import Teller
from gradebook.records.jobs import Count, Tell, silent


def say(*lines: str) -> None:
    """Lines to whoever reads the output."""
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    sys.stdout.flush()


def warn(*lines: str) -> None:
    """Lines to whoever watches for trouble."""
    sys.stderr.write("".join(f"{line}\n" for line in lines))
    sys.stderr.flush()


@contextmanager
def headway() -> Iterator[Tell]:
    """A line that says how far long work is, gone when that ends; on a terminal alone."""
    if not sys.stderr.isatty():
        yield silent
        return
    columns = os.get_terminal_size(sys.stderr.fileno()).columns or 80

    def line(words: str) -> None:
        sys.stderr.write(f"\r{words[: columns - 1]:<{columns - 1}}\r")
        sys.stderr.flush()

    def show(now: Count) -> None:
        line(f"{now.words} ...")

    try:
        yield Teller(show)
    finally:
        line("")
