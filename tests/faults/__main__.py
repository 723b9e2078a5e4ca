"""Every drill at full size, and one table of what came of it; 1 when a zero is none."""

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.faults.flips import flipping
from tests.faults.hunting import hunt, live
from tests.faults.kills import Plan, killing
from tests.faults.planted import PLANTED
from tests.faults.powercut import cutting
from tests.postgres import DURABLE, running_cluster

HEADS = (
    "drill", "faults", "acknowledged", "unknown (committed)", "lost", "half", "disorder",
    "exactly once",
)  # fmt: skip
AT_A_TIME = 100
"""Kills on one school: so its histories stay as long as real ones."""
LONG_WAIT = 30


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the table, and whether all its zeros are zero."""

    cells: tuple[object, ...]
    clean: bool
    words: Sequence[str] = ()


@contextmanager
def folder() -> Iterator[Path]:
    """A folder for one run."""
    with tempfile.TemporaryDirectory(prefix="windtee-faults-") as made:
        yield Path(made)


def kills(chosen: argparse.Namespace) -> Iterator[Line]:
    """Sudden deaths on each database, half of them on each."""
    databases = [chosen.database] if chosen.database else ["sqlite", "postgres"]
    for database in databases:
        left, seed = chosen.kills // len(databases), chosen.seed
        while left > 0:
            plan = Plan(min(left, AT_A_TIME), seed, longest=LONG_WAIT)
            yield _killed(database, plan)
            left, seed = left - AT_A_TIME, seed + 1


def _killed(database: str, plan: Plan) -> Line:
    with folder() as data:
        if database == "sqlite":
            found = killing(plan, data)
        else:
            with running_cluster(DURABLE) as cluster, cluster.fresh_database() as url:
                found = killing(plan, data, url, cluster)
    unknown = f"{found.unknown} ({found.committed})"
    once = "yes" if not found.twice else f"no: {found.twice}"
    cells = (f"kill -9, {database}", f"{plan.kills} kills", found.acknowledged, unknown)
    zeros = (found.lost, found.half + found.unproven + found.crashed, found.disorder, once)
    return Line((*cells, *zeros), found.clean, found.words)


def powercuts(chosen: argparse.Namespace) -> Iterator[Line]:
    """Power cuts on SQLite, and on one that does not wait for the disk."""
    for synchronous in ("FULL", "NORMAL"):
        states = chosen.states if synchronous == "FULL" else min(200, chosen.states)
        with folder() as data:
            found = cutting(data, states, synchronous, chosen.seed)
        control = synchronous == "NORMAL"
        name = "control: NORMAL must lose" if control else "power cut, SQLite FULL"
        half = found.half + found.unproven
        cells = (name, f"{found.states} states", found.acknowledged, "-", found.losing, half)
        clean = found.losing > 0 if control else found.clean
        yield Line((*cells, "-", "-"), clean, found.words)


def bits(chosen: argparse.Namespace) -> Iterator[Line]:
    """Flipped bits in a SQLite file."""
    with folder() as data:
        found = flipping(data, chosen.flips, chosen.seed)
    faults = f"{found.flipped} flips"
    cells = ("flipped bit, SQLite", faults, f"{found.changing} changed something", "-")
    missed = f"{found.missed} unseen"
    yield Line((*cells, missed, "-", "-", "-"), found.clean, found.words)


def lives(chosen: argparse.Namespace) -> Iterator[Line]:
    """The stateful model, and how soon it meets each planted bug."""
    done = live(chosen.lives)
    faults, acts = f"{done.lives} lives", f"{done.acts} acts"
    yield Line(("model of a record", faults, acts, "-", *"0---"), not done.fault, [done.fault])
    for bug in PLANTED:
        found = hunt(bug, chosen.lives)
        after = f"{found.lives} lives"
        met = "found" if found.fault else "NOT FOUND"
        acts = f"{found.acts} acts"
        cells = (f"planted: {bug}", after, acts, met, *"----")
        yield Line(cells, bool(found.fault), [found.fault])


DRILLS: dict[str, Callable[[argparse.Namespace], Iterator[Line]]] = {
    "kills": kills,
    "powercuts": powercuts,
    "flips": bits,
    "lives": lives,
}


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser("python -m tests.faults", description=__doc__)
    parser.add_argument("--kills", type=int, default=500)
    parser.add_argument("--states", type=int, default=10_000)
    parser.add_argument("--flips", type=int, default=2_000)
    parser.add_argument("--lives", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=DRILLS)
    parser.add_argument("--database", choices=("sqlite", "postgres"))
    return parser


def _row(cells: Sequence[object]) -> str:
    return f"| {' | '.join(map(str, cells))} |\n"


def main(words: Sequence[str] | None = None) -> int:
    """Run what is chosen; 1 when anything that must be zero is not."""
    chosen = _parser().parse_args(words)
    sys.stdout.write(_row(HEADS) + _row(["---"] * len(HEADS)))
    clean = True
    for name, drill in DRILLS.items():
        for line in drill(chosen) if chosen.only in (None, name) else ():
            sys.stdout.write(_row(line.cells))
            sys.stdout.flush()
            clean = clean and line.clean
            if not line.clean:
                sys.stderr.writelines(f"{one}\n" for one in line.words)
    return 0 if clean else 1


if __name__ == "__main__":
    sys.exit(main())
