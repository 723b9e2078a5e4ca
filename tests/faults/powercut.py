"""The drill of the pulled plug: whatever the disk had not flushed is gone or torn."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from sqlalchemy.exc import DatabaseError

from gradebook.records.database import Database, open_engine
from gradebook.records.store import people, proof
from tests.cast import close_school
from tests.faults.disk import CALLS, Disk, calls
from tests.faults.drillschool import Draft, DrillSchool
from tests.faults.keeping import kept
from tests.run import ROOT, STRACE

EPOCH = 30
"""Signatures traced at a time: the proof of each state reads them all."""
STATES_EACH = 4
WITHIN = 3 / 40
"""The chance of a cut after a call that is no acknowledgement: a commit is some forty."""
ALONE = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}


@dataclass(slots=True)
class Cuts:
    """What came of the power cuts: states opened, and those that were not as promised."""

    acknowledged: int = 0
    states: int = 0
    losing: int = 0
    worst: int = 0
    half: int = 0
    unproven: int = 0
    words: list[str] = field(default_factory=list)

    @property
    def clean(self) -> bool:
        """Whether nothing acknowledged was lost and every state proved."""
        return not (self.losing or self.half or self.unproven)


def traced(data: Path, url: str, drafts: list[Draft], synchronous: str) -> Iterator[str]:
    """The trace of a process that signs these drafts, line by line."""
    trace = data / "trace"
    asked = "".join(f"{one.record} {one.version}\n" for one in drafts)
    options = ["-y", "-xx", "-s", "9999999", "-qq", "-e", f"trace={','.join(CALLS)}"]
    done = subprocess.run(
        [STRACE, *options, "-o", trace, sys.executable, "-m", "tests.faults.writer", url,
         synchronous],
        cwd=ROOT, env={**os.environ, **ALONE}, input=asked, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("signed ") == len(drafts), done.stdout
    with trace.open() as lines:
        yield from lines
    trace.unlink()


class Bench:
    """Where the states of one epoch are opened, each that differs from the last one."""

    def __init__(self, folder: Path, found: Cuts) -> None:
        self.folder, self.found = folder, found
        self.told: dict[str, int] = {}
        self.last: tuple[Mapping[str, bytes], int] = ({}, 0)
        folder.mkdir()
        # one engine for all: what it has compiled outlives the files
        self.engine = open_engine(f"sqlite:///{folder / 'windtee.db'}")

    def look(self, files: Mapping[str, bytes]) -> None:
        """Open the school as the disk would hold it, and hold it against what was said."""
        if self.last == (files, len(self.told)):
            return
        self.last = files, len(self.told)
        shutil.rmtree(self.folder)
        self.folder.mkdir()
        for name, held in files.items():
            (self.folder / Path(name).name).write_bytes(held)
        self.found.states += 1
        try:
            self._compare(Database(self.engine))
        except DatabaseError as fault:
            self.found.unproven += 1
            self.found.words.append(str(fault)[:200])
        finally:
            self.engine.dispose()

    def _compare(self, database: Database) -> None:
        with database.read() as session:
            held = kept(session, self.told)
            known = people.school(session)
            assert known is not None
            findings = proof.prove(session, known.vkey).findings
        lost = sum(seq not in held[record].places for record, seq in self.told.items())
        self.found.losing += lost > 0
        self.found.worst = max(self.found.worst, lost)
        whole = ({bool(one.places), *one.parts.values()} for one in held.values())
        self.found.half += any(len(parts) > 1 for parts in whole)
        self.found.unproven += bool(findings)
        self.found.words += [one.words for one in findings]


def cutting(data: Path, states: int, synchronous: str = "FULL", seed: int = 1) -> Cuts:
    """Sign, and cut the power in so many ways at least, in the folder `data`."""
    found, random = Cuts(), Random(seed)  # noqa: S311 - dice of a drill
    while found.states < states:
        wanted = min(EPOCH, -(-(states - found.states) // STATES_EACH))
        folder = data / f"epoch{found.states}"
        folder.mkdir()
        _epoch(folder, wanted, synchronous, found, random)
        shutil.rmtree(folder)
    return found


def _epoch(folder: Path, number: int, synchronous: str, found: Cuts, random: Random) -> None:
    made = DrillSchool(folder)
    drafts = list(made.drafts("teacher0", number))
    url = made.school.settings.database
    close_school(made.school)
    disk, bench = Disk(), Bench(folder / "state", found)
    for path in folder.glob("windtee.db*"):
        disk.files[str(path)] = bytearray(path.read_bytes())
    begun, chance = False, 0.0
    for call in calls(traced(folder, url, drafts, synchronous)):
        if call.file == "pipe":
            words = call.data.decode().split()
            begun = begun or words == ["ready"]
            if words[0] == "signed":
                found.acknowledged += 1
                bench.told[words[1]] = int(words[2])
                bench.look(disk.without())
                bench.look(disk.torn(random))
                chance = WITHIN
            continue
        if not call.file.startswith(str(folder)) or call.file.endswith("-shm"):
            continue
        disk.take(call)
        if begun and random.random() < chance:  # and in the middle of a commit
            bench.look(disk.torn(random))
