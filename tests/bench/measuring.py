"""A job done many times: its median time, and what that is beside something plain."""

import os
import platform
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from importlib.metadata import version

import numpy as np
import pandas as pd

LIBRARIES = ("numpy", "scipy", "pandas", "scikit-learn", "statsmodels", "sqlalchemy")
THREADS = (
    "OPENBLAS_NUM_THREADS",
    "OMP_NUM_THREADS",
    "MKL_NUM_THREADS",
    "NUMEXPR_NUM_THREADS",
)


@dataclass(frozen=True, slots=True)
class Time:
    """Medians of `runs`: `seconds` by the wall clock, `cpu` of this process, all threads,
    and of those that it started and saw end.

    `fastest` are the seconds of the fastest run, the one least disturbed by others.
    """

    seconds: float
    cpu: float
    fastest: float
    runs: int


@dataclass(frozen=True, slots=True)
class Figure:
    """One job over so many `rows`.

    `base` are the seconds of something plain done to the same (`grades` rows): for the needle
    a mean by student and task. `load` is the machine's load average as the job ended.
    """

    name: str
    rows: int
    time: Time
    grades: int
    base: float
    load: float

    @property
    def each(self) -> float:
        """Microseconds a row."""
        return self.time.seconds / self.rows * 1e6

    @property
    def ratio(self) -> float:
        """How many times the base it costs."""
        return self.time.seconds / self.base

    def plain(self) -> dict[str, object]:
        """All of it, worked out."""
        worked_out = {"microseconds_a_row": self.each, "ratio_to_base": self.ratio}
        return {**asdict(self), **worked_out}


@dataclass(frozen=True, slots=True)
class Baseline:
    """Something plain, done in so many seconds to so many rows."""

    grades: int
    seconds: float

    def figure(
        self, name: str, work: Callable[[], object], runs: int, rows: int | None = None
    ) -> Figure:
        """Measure a job that reads these rows; `rows` it answers for (all when None)."""
        return self._of(name, time_of(work, runs), self.grades if rows is None else rows)

    def of_runs(self, name: str, runs: Sequence[tuple[float, float]], rows: int) -> Figure:
        """A figure from runs timed elsewhere: wall and CPU seconds of each."""
        return self._of(name, summed_up(runs), rows)

    def _of(self, name: str, taken: Time, rows: int) -> Figure:
        return Figure(name, rows, taken, self.grades, self.seconds, os.getloadavg()[0])


def plainly(rows: int, work: Callable[[], object], runs: int) -> Baseline:
    """A base of one's own."""
    return Baseline(rows, time_of(work, runs).seconds)


def groupby(frame: pd.DataFrame, runs: int) -> Baseline:
    """Mean grade by student and task, the plainest thing to do with a grade table."""
    plain = pd.DataFrame(
        {
            "student": pd.factorize(frame["student"])[0],
            "task": pd.factorize(frame["task"])[0],
            "grade": frame["grade"].to_numpy(),
        }
    )
    taken = time_of(lambda: plain.groupby(["student", "task"])["grade"].mean(), runs)
    return Baseline(len(frame), taken.seconds)


def time_of(work: Callable[[], object], runs: int) -> Time:
    """So many runs, after a warm-up of one and a tenth as many."""
    for _ in range(1 + runs // 10):
        work()
    return summed_up([timed(work) for _ in range(runs)])


def summed_up(runs: Sequence[tuple[float, float]]) -> Time:
    """Medians and the fastest of wall and CPU seconds."""
    seconds, cpu = np.median(runs, axis=0)
    return Time(float(seconds), float(cpu), min(wall for wall, _ in runs), len(runs))


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Wall and CPU seconds of one run."""
    wall, cpu = time.perf_counter(), _cpu()
    work()
    return time.perf_counter() - wall, _cpu() - cpu


def _cpu() -> float:
    """Of this process and of those it started that have ended."""
    ended = os.times()
    return time.process_time() + ended.children_user + ended.children_system


@dataclass(frozen=True, slots=True)
class Machine:
    """Where it was measured, and how busy that was just then; `limit` of threads, if any."""

    limit: int | None = None
    python: str = field(default_factory=platform.python_version)
    processor: str = field(default_factory=platform.machine)
    cores: int = field(default_factory=lambda: os.cpu_count() or 0)
    load: tuple[float, float, float] = field(default_factory=os.getloadavg)
    libraries: dict[str, str] = field(
        default_factory=lambda: {name: version(name) for name in LIBRARIES}
    )
    threads: dict[str, str] = field(
        default_factory=lambda: {name: os.environ.get(name, "not set") for name in THREADS}
    )
