"""A job done many times: its median time, and what that is beside a plain groupby."""

import os
import platform
import time
from collections.abc import Callable, Iterable
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
class Figure:
    """One job over so many `rows`: the median of `runs`.

    `seconds` by the wall clock, `cpu` of this process with all its threads. `groupby` are the
    seconds of a mean by student and task over the grades the job read (`grades` of them).
    """

    name: str
    rows: int
    seconds: float
    cpu: float
    runs: int
    grades: int
    groupby: float

    @property
    def each(self) -> float:
        """Microseconds a row."""
        return self.seconds / self.rows * 1e6

    @property
    def ratio(self) -> float:
        """How many plain groupbys over the same grades it costs."""
        return self.seconds / self.groupby

    def plain(self) -> dict[str, object]:
        """All of it, worked out."""
        return {**asdict(self), "microseconds_a_row": self.each, "ratio_to_groupby": self.ratio}


@dataclass(frozen=True, slots=True)
class Baseline:
    """The groupby over one table of grades (integers in every column)."""

    grades: int
    seconds: float

    def figure(
        self, name: str, work: Callable[[], object], runs: int, rows: int | None = None
    ) -> Figure:
        """Measure a job that reads these grades; `rows` it answers for (all when None)."""
        seconds, cpu = median_time(work, runs)
        many = self.grades if rows is None else rows
        return Figure(name, many, seconds, cpu, runs, self.grades, self.seconds)

    def of_times(self, name: str, times: Iterable[tuple[float, float]], rows: int) -> Figure:
        """A figure from runs timed elsewhere: wall and CPU seconds of each."""
        taken = np.array(list(times))
        seconds, cpu = np.median(taken, axis=0)
        found = (float(seconds), float(cpu), len(taken))
        return Figure(name, rows, *found, self.grades, self.seconds)


def groupby(frame: pd.DataFrame, runs: int) -> Baseline:
    """Mean grade by student and task, the plainest thing to do with a grade table."""
    plain = pd.DataFrame(
        {
            "student": pd.factorize(frame["student"])[0],
            "task": pd.factorize(frame["task"])[0],
            "grade": frame["grade"].to_numpy(),
        }
    )
    seconds, _ = median_time(lambda: plain.groupby(["student", "task"])["grade"].mean(), runs)
    return Baseline(len(frame), seconds)


def median_time(work: Callable[[], object], runs: int) -> tuple[float, float]:
    """Median wall and CPU seconds of so many runs, after a warm-up of a tenth as many."""
    for _ in range(1 + runs // 10):
        work()
    taken = np.array([timed(work) for _ in range(runs)])
    seconds, cpu = np.median(taken, axis=0)
    return float(seconds), float(cpu)


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Wall and CPU seconds of one run."""
    wall, cpu = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall, time.process_time() - cpu


@dataclass(frozen=True, slots=True)
class Machine:
    """Where it was measured, and how busy that was just then."""

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
