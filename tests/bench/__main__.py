"""Measure, then print a table or JSON."""

import argparse
import json
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace

from threadpoolctl import threadpool_limits

from tests.bench.answers import asking
from tests.bench.fits import BOOSTING, FIT, REBUILT, SCHOOLS, TRACING, fitting
from tests.bench.ledgers import BASES, cutting, judging
from tests.bench.measuring import Figure, Machine
from tests.bench.proofs import proving
from tests.bench.reading import rebuilding, updating
from tests.bench.schools import QUICK, Sizes, whole_school
from tests.bench.signatures import entering
from tests.bench.signoffs import signing

FIT_GOAL, UPDATE_GOAL = 10.0, 2.0
MANY_THREADS = "threads not limited: on a busy machine compare the fits with --threads 1"
HEADS = "seconds", "fastest", "CPU s", "rows", "us/row", "x base", "load"


@dataclass(frozen=True, slots=True)
class Goal:
    """What was aimed at, and what was measured."""

    words: str
    measured: float
    met: bool


def main(words: Sequence[str] | None = None) -> int:
    """Run every measurement; 0 whatever they say."""
    chosen = _parser().parse_args(words)
    size = QUICK if chosen.quick else Sizes()
    if chosen.students:
        size = replace(size, students=chosen.students)
    if chosen.entries:
        size = replace(size, entries=chosen.entries)
    with threadpool_limits(chosen.threads):
        before, figures = Machine(limit=chosen.threads), []
        for one in _all(size):
            figures.append(one)
            sys.stderr.write(f"{one.name}\n")
    told = _json if chosen.json else _table
    sys.stdout.writelines(f"{line}\n" for line in told(figures, before))
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser("python -m tests.bench", description=__doc__)
    parser.add_argument("--students", type=int, help="of the school rebuilt (500)")
    parser.add_argument("--entries", type=int, help="of the ledger proved (20,000)")
    parser.add_argument("--quick", action="store_true", help="tiny sizes, to see it run")
    parser.add_argument("--threads", type=int, help="most threads a library may use")
    parser.add_argument("--json", action="store_true", help="print JSON")
    return parser


def _all(size: Sizes) -> Iterator[Figure]:
    frame = whole_school(size)
    yield from rebuilding(frame, size)
    yield from updating(frame, size)
    yield from signing(size)
    yield from asking(frame, size)
    yield from fitting(frame, size)
    yield from entering(size)
    yield from proving(size)
    yield from cutting(size)
    yield from judging(size)


def goals(figures: Iterable[Figure]) -> Iterator[Goal]:
    """The goals: fits beside boosting and tracing together; the sign-off's update.

    Both by CPU seconds. Threads that wait for each other count as busy, on a busy machine
    ten times over: only with one thread is that a fair comparison of the fits.
    """
    by_name = {one.name: one for one in figures}
    for school in (REBUILT, *SCHOOLS):
        ours, *others = (by_name[f"{name}, {school}"] for name in (FIT, BOOSTING, TRACING))
        times = sum(one.time.cpu for one in others) / ours.time.cpu
        words = f"times less CPU a row than boosting and tracing, {school}; goal {FIT_GOAL:g}"
        yield Goal(words, times, times >= FIT_GOAL)
    spent = by_name["update at a sign-off"].time.cpu * 1e3
    yield Goal(f"ms of CPU a sign-off; goal under {UPDATE_GOAL:g}", spent, spent < UPDATE_GOAL)


def _json(figures: list[Figure], before: Machine) -> Iterator[str]:
    found = {
        "machine": asdict(before),
        "load_after": Machine().load,
        "figures": [one.plain() for one in figures],
        "goals": [asdict(one) for one in goals(figures)],
    }
    yield json.dumps(found, indent=2)


def _table(figures: list[Figure], before: Machine) -> Iterator[str]:
    width = max(len(one.name) for one in figures)
    yield " " * width + "".join(f"{head:>11}" for head in HEADS)
    for one in figures:
        taken = (_three(part) for part in (one.time.seconds, one.time.fastest, one.time.cpu))
        told = (*taken, str(one.rows), _three(one.each), _three(one.ratio), f"{one.load:.1f}")
        yield f"{one.name:<{width}}{''.join(f'{cell:>11}' for cell in told)}"
    yield ""
    for goal in goals(figures):
        yield f"{goal.measured:8.3g} {goal.words}: {'met' if goal.met else 'not met'}"
    yield ""
    yield from _conditions(before)


def _three(number: float) -> str:
    return f"{number:.3g}" if number < 1000 else f"{number:.0f}"


def _conditions(before: Machine) -> Iterator[str]:
    yield "Medians after warming up, and the fastest run; CPU counts all threads. Groupby: mean"
    yield "by student and task over the grades read, integer columns; it is the base of all but"
    yield f"the ledger's figures, whose bases are: {'; '.join(BASES)}."
    yield "Load: of the last minute."
    pairs = {"Python": before.python, **before.libraries}
    yield ", ".join(f"{name} {number}" for name, number in pairs.items())
    yield ", ".join(f"{name} {value}" for name, value in before.threads.items())
    yield f"threads limited to {before.limit}" if before.limit else MANY_THREADS
    loads = (" ".join(f"{one:.2f}" for one in when.load) for when in (before, Machine()))
    yield f"{before.cores} cores ({before.processor})"
    yield f"load average before and after: {' / '.join(loads)}"


if __name__ == "__main__":
    sys.exit(main())
