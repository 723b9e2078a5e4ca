"""Histories kept in memory from one page to the next, for as long as they are true.

A history follows from statements alone: it stays what it was as long as the newest statement
about its enrolment stays the newest. Whoever reads names that statement (the mark) and gets the
history that was read under the same mark. Only readers keep one: what a writer sees may never
be committed.
"""

import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from threading import Lock

from gradebook.records.values import History

MOST_LESSONS = 20_000
IDLE_SECONDS = 900.0


@dataclass(slots=True)
class _Held:
    mark: str
    history: History
    asked_at: float


class Memory:
    """Histories by enrolment: at most so many lessons, and none that nobody asks for.

    What was asked for longest ago goes first, and all that nobody asked for in a quarter of an
    hour: the histories of an erased student too.
    """

    def __init__(
        self,
        most: int = MOST_LESSONS,
        idle: float = IDLE_SECONDS,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._most, self._idle, self._clock = most, idle, clock
        self._held: OrderedDict[str, _Held] = OrderedDict()
        self._lessons = 0
        self._lock = Lock()

    @property
    def lessons(self) -> int:
        """How many lessons are kept now."""
        return self._lessons

    def recall(self, marks: Mapping[str, str]) -> dict[str, History]:
        """The histories kept under these marks, by enrolment; others are not in it."""
        with self._lock:
            now = self._clock()
            found = {}
            for name, mark in marks.items():
                held = self._held.get(name)
                if held is not None and held.mark == mark:
                    found[name], held.asked_at = held.history, now
                    self._held.move_to_end(name)
            self._forget(now)
            return found

    def keep(self, marks: Mapping[str, str], histories: Mapping[str, History]) -> None:
        """Keep each history that has a mark, in the place of an older one."""
        with self._lock:
            now = self._clock()
            for name in marks.keys() & histories.keys():
                self._drop(name)
                self._held[name] = _Held(marks[name], histories[name], now)
                self._lessons += len(histories[name])
            self._forget(now)

    def _forget(self, now: float) -> None:
        while self._held:
            name, held = next(iter(self._held.items()))
            if self._lessons <= self._most and now - held.asked_at < self._idle:
                return
            self._drop(name)

    def _drop(self, name: str) -> None:
        held = self._held.pop(name, None)
        self._lessons -= len(held.history) if held else 0
