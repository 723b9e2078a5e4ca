"""Reading a long ledger ahead on a second core: texts and signatures, batch by batch."""

import gc
import signal
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import fields
from itertools import islice
from multiprocessing import get_context
from multiprocessing.connection import Connection
from operator import attrgetter
from typing import Any

from gradebook.ledger.gleaning import Gleaned, Publics, Stored, glean, one_by_one
from gradebook.ledger.statements import Entry, Statement

BATCH, FEW = 250, 125
"""Rows the helper is asked at once, and those read here where it would be waited for."""
WORTH = 2000
"""So many entries are read here first: for fewer, a process costs more than it saves."""

_OF_ENTRY = attrgetter(*(one.name for one in fields(Entry)))
_OF_STATEMENT = attrgetter(*(one.name for one in fields(Statement)))


def reading_ahead(
    rows: Iterable[Stored], publics: Callable[[], Publics]
) -> Iterator[tuple[Stored, Gleaned]]:
    """Glean by a process of its own while the caller judges; see `ledger.gleaning.Gleaning`.

    That process says only what a row says by itself. If it ends early, the rest is gleaned
    here; it ends when this one does, however that comes about.
    """
    rest = iter(rows)
    yield from one_by_one(islice(rest, WORTH), publics)
    batch = list(islice(rest, BATCH))
    if batch:
        with _helper() as pipe:
            yield from _overlapping(pipe, batch, rest, publics)


@contextmanager
def _helper() -> Iterator[Connection]:
    anew = get_context("spawn")
    here, there = anew.Pipe()
    helper = anew.Process(target=_help, args=(there,), daemon=True)
    helper.start()
    there.close()
    try:
        with here:
            yield here
    finally:
        helper.join()


def _help(pipe: Connection) -> None:
    """Glean what is asked until nobody asks any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the one who asks is told, and hangs up
    gc.disable()  # what is gleaned holds no circles
    try:
        while True:
            texts, publics = pipe.recv()
            pipe.send([_packed(glean(entry, text, publics)) for entry, text in texts])
    except (EOFError, OSError):
        return


def _overlapping(
    pipe: Connection,
    batch: list[Stored],
    rest: Iterator[Stored],
    publics: Callable[[], Publics],
) -> Iterator[tuple[Stored, Gleaned]]:
    """One batch is with the helper while the one before it is judged here.

    Whoever would wait for the helper gleans a few of the next rows meanwhile.
    """
    _ask(pipe, batch, publics())
    while batch:
        few = [] if pipe.poll() else list(islice(rest, FEW))
        own = list(one_by_one(few, publics))
        gleaned, asked = _answer(pipe, batch), batch
        batch = list(islice(rest, BATCH))
        if batch:
            _ask(pipe, batch, publics())
        yield from zip(asked, gleaned, strict=True)
        yield from own


def _ask(pipe: Connection, batch: list[Stored], publics: Publics) -> None:
    try:
        pipe.send(([(row.entry, row.statement) for row in batch], publics))
    except OSError:
        return  # it ended: no answer comes either


def _answer(pipe: Connection, batch: list[Stored]) -> list[Gleaned]:
    try:
        return [_unpacked(one) for one in pipe.recv()]
    except (EOFError, OSError):
        return [glean(row.entry, row.statement, {}) for row in batch]


def _packed(one: Gleaned) -> tuple[Any, ...]:
    """As plain values: pickling the classes takes longer than reading a row does."""
    entry = None if one.entry is None else _OF_ENTRY(one.entry)
    statement = None if one.statement is None else _OF_STATEMENT(one.statement)
    return entry, statement, one.digest, one.fits, one.fault


def _unpacked(packed: tuple[Any, ...]) -> Gleaned:
    entry, statement, *rest = packed
    return Gleaned(
        None if entry is None else Entry(*entry),
        None if statement is None else Statement(*statement),
        *rest,
    )
