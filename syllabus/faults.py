"""What is wrong with a course's files, told by file and line."""

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One thing wrong. `line` counts from 1; `words` say what is wrong and what to do."""

    file: str
    line: int
    words: str


class CourseError(Exception):
    """A course cannot be read; `faults` holds everything that is wrong with it."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        super().__init__(
            "\n".join(f"{fault.file}:{fault.line}: {fault.words}" for fault in faults)
        )


def nearest(wrong: str, known: Iterable[str]) -> str:
    """A sentence naming the known word most like the wrong one; empty when none is like it."""
    words = {word.lower(): word for word in known}
    found = get_close_matches(wrong.lower(), words, n=1, cutoff=0.6)
    return f" Did you mean {words[found[0]]}?" if found else ""
