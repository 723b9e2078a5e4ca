"""What a disk that keeps only what was flushed would hold, at any moment of a traced process.

The trace is strace's, its strings in hexadecimal. Removing a file is taken to last at once.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from random import Random

SECTOR = 512
CALLS = ("pwrite64", "write", "fsync", "fdatasync", "ftruncate", "unlink")
LINE = re.compile(r"(?:\d+ +)?(\w+)\((.*)\) += (\d+)")
FILE = re.compile(r"\d+<((?:\\x[0-9a-f]{2})+)>")
TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')


@dataclass(frozen=True, slots=True)
class Call:
    """One system call on a file: its name, the file, what was written and where."""

    name: str
    file: str
    data: bytes = b""
    at: int = 0


def _plain(hexadecimal: str) -> bytes:
    return bytes.fromhex(hexadecimal.replace("\\x", ""))


def calls(trace: Iterable[str]) -> Iterator[Call]:
    """The calls of a trace that succeeded, in order; the writes to a pipe are named `pipe`."""
    for line in trace:
        found = LINE.match(line)
        if found is None or found[1] not in CALLS:
            continue
        name, words = found[1], found[2]
        data = _plain(text[1]) if (text := TEXT.search(words)) else b""
        if name == "unlink":
            yield Call(name, data.decode())
            continue
        opened = FILE.match(words)
        if opened is None:
            continue
        at = int(words.rpartition(", ")[2]) if name in ("pwrite64", "ftruncate") else 0
        yield Call(name, _plain(opened[1]).decode().partition(":")[0], data, at)


@dataclass(slots=True)
class Disk:
    """Files as they were last flushed, and what has been written to them since."""

    files: dict[str, bytearray] = field(default_factory=dict)
    unsynced: dict[str, list[Call]] = field(default_factory=dict)

    def take(self, call: Call) -> None:
        """Let one call happen."""
        if call.name == "unlink":
            self.files.pop(call.file, None)
            self.unsynced.pop(call.file, None)
        elif call.name in ("fsync", "fdatasync"):
            for written in self.unsynced.pop(call.file, ()):
                _apply(self.files.setdefault(call.file, bytearray()), written)
        else:
            self.unsynced.setdefault(call.file, []).append(call)

    def without(self) -> dict[str, bytes]:
        """The files when everything not flushed is gone."""
        return {name: bytes(held) for name, held in self.files.items()}

    def torn(self, random: Random) -> dict[str, bytes]:
        """The files when some sectors of what was not flushed got there, and some did not."""
        made = {name: bytearray(held) for name, held in self.files.items()}
        for name, written in self.unsynced.items():
            held = made.setdefault(name, bytearray())
            share = random.random()
            for call in written:
                for part in _sectors(call):
                    if random.random() < share:
                        _apply(held, part)
        return {name: bytes(held) for name, held in made.items()}


def _apply(held: bytearray, call: Call) -> None:
    if call.name == "ftruncate":
        del held[call.at :]
        held.extend(bytes(call.at - len(held)))
        return
    held.extend(bytes(max(0, call.at - len(held))))
    held[call.at : call.at + len(call.data)] = call.data


def _sectors(call: Call) -> Iterator[Call]:
    """A write cut where sectors of the disk begin."""
    if call.name == "ftruncate":
        yield call
        return
    at, end = call.at, call.at + len(call.data)
    while at < end:
        following = min(end, (at // SECTOR + 1) * SECTOR)
        yield Call(call.name, call.file, call.data[at - call.at : following - call.at], at)
        at = following
