"""What readers keep in memory from one page to the next, for as long as it is true.

What is on record of a student follows from statements alone: it stays what it was as long as
the newest statement about the enrolment stays the newest. Whoever reads names what the answer
follows from (the mark) and gets what was kept under an equal mark, or nothing. Only readers
keep anything: what a writer sees may never be committed.
"""

import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from threading import Lock
from typing import Any, TypeVar

T = TypeVar("T")

MOST_LESSONS = 20_000
IDLE_SECONDS = 900.0


@dataclass(slots=True)
class _Held:
    mark: object
    value: Any
    lessons: int
    asked_at: float


def once(found: dict[str, Any], name: str, work: Callable[[], T]) -> T:
    """What is in `found` by this name; worked out and put there where it is not yet."""
    if name not in found:
        found[name] = work()
    value: T = found[name]
    return value


class Memory:
    """One thing for each enrolment, of at most so many lessons in all (none counts as one).

    What was asked for longest ago goes first. Whenever anything is asked, all goes that nobody
    asked for in a quarter of an hour: what was kept of an erased student too.
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
        """How many lessons all that is kept is about."""
        return self._lessons

    def recall(self, marks: Mapping[str, object]) -> dict[str, Any]:
        """What is kept under these marks, by enrolment; others are not in it."""
        with self._lock:
            now = self._clock()
            found = {}
            for name, mark in marks.items():
                held = self._held.get(name)
                if held is not None and held.mark == mark:
                    found[name], held.asked_at = held.value, now
                    self._held.move_to_end(name)
            self._forget(now)
            return found

    def keep(self, name: str, mark: object, value: object, lessons: int) -> None:
        """Keep something that so many lessons made, in the place of what was kept before."""
        with self._lock:
            self._drop(name)
            self._held[name] = _Held(mark, value, max(1, lessons), self._clock())
            self._lessons += max(1, lessons)
            self._forget(self._clock())

    def _forget(self, now: float) -> None:
        while self._held:
            name, held = next(iter(self._held.items()))
            if self._lessons <= self._most and now - held.asked_at < self._idle:
                return
            self._drop(name)

    def _drop(self, name: str) -> None:
        held = self._held.pop(name, None)
        self._lessons -= held.lessons if held else 0


@dataclass(frozen=True, slots=True)
class Memories:
    """What the readers of one database keep: files, what was worked out of each, and of many.

    Of many: by course instead of enrolment.
    """

    files: Memory = field(default_factory=Memory)
    standings: Memory = field(default_factory=Memory)
    courses: Memory = field(default_factory=Memory)
