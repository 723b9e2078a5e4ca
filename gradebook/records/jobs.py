"""Long work: its kinds, how far it is, and how those who do it tell. Pure."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from gradebook.formats import count
from gradebook.records.permissions import Action
from syllabus.saying import say


class Kind(StrEnum):
    """What can take so long that a page does not wait for it."""

    IMPORT = "import file"
    PROVE = "prove"


class State(StrEnum):
    """How a job stands. Only `asked`, `done` and `failed` are kept; see `standing`."""

    ASKED = "asked"
    DONE = "done"
    FAILED = "failed"
    INTERRUPTED = "interrupted"


ACTION: Mapping[Kind, Action] = {
    Kind.IMPORT: Action.IMPORT,
    Kind.PROVE: Action.AUDIT_READ,
}
"""The action a person must be allowed, when they ask and again when the work is done."""

MS: Mapping[str, float] = {"student": 15.0, "grade": 1.5, "entry": 0.4}
"""Milliseconds that one of these is expected to take (two cores, SQLite; DEVELOPERS.md)."""


def is_long(unit: str, number: int, at_once_ms: float) -> bool:
    """Whether so many of these are expected to take longer than a page should."""
    return number * MS[unit] > at_once_ms


@dataclass(frozen=True, slots=True)
class Count:
    """How far the work is: a step of `STEPS`, and how many of how many."""

    step: str
    done: int = 0
    total: int = 0

    @property
    def words(self) -> str:
        """`1240 of 3205 grades written`; the step alone while nothing is counted yet."""
        before, noun, plural, text = STEPS[self.step]
        if not self.total:
            return before
        return say(text, done=self.done, things=count(self.total, noun, plural))


Tell = Callable[[str, int, int], None]
"""Takes a step of `STEPS`, how many are done, and of how many."""

STEPS: Mapping[str, tuple[str, str, str, str]] = {
    "wait": (say("Waiting for other long work to end"), "", "", ""),
    "begin": (say("Beginning"), "", "", ""),
    "check": (say("Checking"), "lesson", "", say("{done} of {things} checked")),
    "check students": (say("Checking"), "student", "", say("{done} of {things} checked")),
    "write": (say("Writing"), "lesson", "", say("{done} of {things} written")),
    "write students": (say("Writing"), "student", "", say("{done} of {things} written")),
    "needle": (
        say("Working the needles out"),
        "student",
        "",
        say("needles of {done} of {things} kept"),
    ),
    "commit": (say("Keeping all of it"), "", "", ""),
    "copy": (say("Copying the database"), "", "", ""),
    "pack": (say("Packing"), "MB", "MB", say("{done} of {things} packed")),
    "unpack": (say("Unpacking"), "MB", "MB", say("{done} of {things} unpacked")),
    "entries": (say("Reading the ledger"), "entry", "entries", say("{done} of {things} read")),
    "events": (
        say("Reading the audit trail"),
        "audit event",
        "",
        say("{done} of {things} read"),
    ),
}
"""What a step is called, what it counts (in one and in many), and how the count is said."""


def silent(_step: str, _done: int, _total: int) -> None:
    """Tell nobody."""


def remaining(done: int, total: int, seconds: float) -> float | None:
    """Seconds that the rest will take at the pace so far; None while that is a guess.

    A guess it is for the first two seconds and the first twentieth of the work.
    """
    if done <= 0 or seconds < 2 or done * 20 < total:
        return None
    return seconds * (total - done) / done
