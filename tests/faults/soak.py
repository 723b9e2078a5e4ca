"""Hours of ordinary work: `python -m tests.faults.soak [--minutes 480] [--database postgres]`.

Instructors sign one lesson after another, a chief instructor reads pages, each with half a
second of thought, while a backup and a proof of the whole school follow each other beside them.
A line a minute tells how it goes. The status is 1 when an answer was a fault, a command failed,
the write-ahead log reached 64 MiB, something acknowledged is not there at the end, or the
server's processes hold a fifth more memory than new ones do that read the same pages of the
same school: the school grows meanwhile by as much as any other in years, so what it needed in
the beginning tells nothing.
"""

import argparse
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import cycle
from pathlib import Path
from queue import SimpleQueue
from select import select

from tests.cast import SEED, close_school
from tests.faults import keeping
from tests.faults.clients import NO_ANSWER, Browser
from tests.faults.drillschool import Draft, DrillSchool
from tests.faults.history import Attempt, Tally, tally
from tests.faults.processes import Group, children, running_group
from tests.postgres import DURABLE, running_cluster
from tests.run import ROOT

SIGNERS, SUPPLY = 3, 10
THOUGHT, EVERY, BETWEEN = 0.5, 5.0, 30.0
PAGES = "/", "/students", "/readiness", "/school", "/school/progress", "/syllabus", "/audit"
ROUNDS = 6
MOST_GROWTH, MOST_LOG = 0.2, 64 * 2**20
COMMANDS = ("backup", "--keep", "2"), ("verify",)
PAGE = os.sysconf("SC_PAGE_SIZE")


@dataclass
class Soaked:
    """What has been seen so far: answers and ends of commands counted, sizes in bytes."""

    answers: Counter[str] = field(default_factory=Counter)
    commands: Counter[str] = field(default_factory=Counter)
    memory: list[int] = field(default_factory=list)
    anew: int = 0
    log: int = 0
    attempts: list[Attempt] = field(default_factory=list)

    @property
    def growth(self) -> float:
        """How much more memory at the end than new processes need, as a part."""
        return self.memory[-1] / self.anew - 1 if self.anew else 0.0

    @property
    def faults(self) -> list[str]:
        """What must not be, in words."""
        bad = [f"{n} x {one}" for one, n in self.answers.items() if one not in ("200", "303")]
        bad += [f"{n} x {one}" for one, n in self.commands.items() if not one.endswith(" 0")]
        if self.growth >= MOST_GROWTH:
            bad.append(f"{self.growth:.0%} more memory than new processes need")
        if self.log >= MOST_LOG:
            bad.append(f"the write-ahead log reached {self.log / 2**20:.0f} MiB")
        return bad


class Soak:
    """One school, its server, and those who work in it until they are told to stop."""

    def __init__(self, made: DrillSchool, group: Group) -> None:
        self.made, self.group, self.seen = made, group, Soaked()
        self.over = threading.Event()
        self.work = {name: SimpleQueue[Draft]() for name in made.teachers}
        settings = made.school.settings
        (settings.data / "school.key").write_text(SEED.hex())
        self.place = {**os.environ, "WINDTEE_DATABASE": settings.database}

    def run(self, minutes: float) -> Soaked:
        """Let them work for so long; each does at least one thing, however slow the machine."""
        self._supply()
        busy = [threading.Thread(target=self._sign, args=[name]) for name in self.work]
        busy += [threading.Thread(target=act) for act in (self._read, self._keep)]
        for one in busy:
            one.start()
        ends = time.monotonic() + 60 * minutes
        told = time.monotonic()
        while time.monotonic() < ends:
            self.over.wait(EVERY)
            self._supply()
            self._sample()
            if time.monotonic() > told + 60:
                told = time.monotonic()
                sys.stderr.write(f"{self._line()}\n")
        self.over.set()
        for one in busy:
            one.join()
        self._sample()
        self._renew()
        return self.seen

    def _supply(self) -> None:
        for name, waiting in self.work.items():
            if waiting.qsize() < SUPPLY:
                for draft in self.made.drafts(name, SUPPLY):
                    waiting.put(draft)

    def _sign(self, name: str) -> None:
        browser = Browser(self.group.address, name)
        browser.sign_in()
        while True:
            if not self.work[name].empty():
                done = browser.sign(self.work[name].get())
                self.seen.attempts.append(done)
                self.seen.answers[str(done.status)] += 1
            if self.over.wait(THOUGHT):
                return

    def _read(self) -> None:
        browser = Browser(self.group.address, "cleo")
        browser.sign_in()
        for path in cycle(PAGES):
            try:
                said = str(browser.ask("GET", path).status)
            except NO_ANSWER:
                said = "no answer"
            self.seen.answers[said] += 1
            if self.over.wait(THOUGHT):
                return

    def _keep(self) -> None:
        data = str(self.made.school.settings.data)
        for command, *options in cycle(COMMANDS):
            words = [sys.executable, "-m", "gradebook", command, "--data", data, *options]
            done = subprocess.run(
                words, cwd=ROOT, env=self.place, capture_output=True, text=True, check=False
            )
            self.seen.commands[f"{command} {done.returncode}"] += 1
            if done.returncode:
                sys.stderr.write(done.stdout + done.stderr)
            if self.over.wait(BETWEEN):
                return

    def _renew(self) -> None:
        """New processes that read every page some times, and what they need for it."""
        old = [os.pidfd_open(one) for one in children(self.group.master)]
        os.kill(self.group.master, signal.SIGHUP)
        for one in old:
            select([one], [], [])
            os.close(one)
        browser = Browser(self.group.address, "cleo")
        browser.sign_in()
        for path in PAGES * ROUNDS:
            browser.ask("GET", path)
        self.seen.anew = self._resident()

    def _resident(self) -> int:
        pids = children(self.group.master)
        return PAGE * sum(
            int(Path(f"/proc/{one}/statm").read_text().split()[1]) for one in pids
        )

    def _sample(self) -> None:
        self.seen.memory.append(self._resident())
        log = self.made.school.settings.data / "windtee.db-wal"
        self.seen.log = max(self.seen.log, log.stat().st_size if log.exists() else 0)

    def _line(self) -> str:
        seen = self.seen
        said = ", ".join(f"{n} x {one}" for one, n in sorted(seen.answers.items()))
        done = ", ".join(f"{n} x {one}" for one, n in sorted(seen.commands.items()))
        size = seen.memory[-1] / 2**20
        return f"{said}; {done}; {size:.0f} MiB, log at most {seen.log / 2**20:.1f} MiB"


@contextmanager
def _database(kind: str) -> Iterator[str | None]:
    if kind == "sqlite":
        yield None
        return
    with running_cluster(DURABLE) as cluster, cluster.fresh_database() as url:
        yield url


def soak(minutes: float, kind: str) -> tuple[Soaked, Tally]:
    """Work for so long on a new school; what was seen, and what it comes to."""
    with tempfile.TemporaryDirectory(prefix="windtee-soak-") as folder, _database(kind) as url:
        made = DrillSchool(Path(folder), url, SIGNERS)
        try:
            with running_group(Path(folder), made.school.settings.database) as group:
                seen = Soak(made, group).run(minutes)
            with made.school.database.read() as session:
                held = keeping.kept(session, {one.record for one in seen.attempts})
            found = tally(seen.attempts, held)
            keeping.prove(made.school, found)
        finally:
            close_school(made.school)
    return seen, found


def main(words: Sequence[str] | None = None) -> int:
    """Work, tell what came of it; 1 when there is a fault."""
    parser = argparse.ArgumentParser("python -m tests.faults.soak", description=__doc__)
    parser.add_argument("--minutes", type=float, default=480.0)
    parser.add_argument("--database", choices=("sqlite", "postgres"), default="sqlite")
    chosen = parser.parse_args(words)
    seen, found = soak(chosen.minutes, chosen.database)
    faults = seen.faults + found.words
    sys.stdout.write(
        f"{chosen.minutes:g} minutes, {chosen.database}: {found.acknowledged} signed, "
        f"{sum(seen.answers.values())} answers, {dict(seen.commands)}\n"
        f"memory {seen.memory[-1] / 2**20:.0f} MiB, of new processes {seen.anew / 2**20:.0f}; "
        f"log at most {seen.log / 2**20:.1f} MiB\n"
        f"lost {found.lost}, half-written {found.half + found.unproven}, twice {found.twice}, "
        f"out of order {found.disorder}\n"
    )
    sys.stdout.writelines(f"FAULT: {one}\n" for one in faults)
    return 0 if found.clean and not faults else 1


if __name__ == "__main__":
    sys.exit(main())
