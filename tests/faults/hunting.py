"""Letting the machine live, and how soon it meets a planted bug."""

from dataclasses import dataclass
from math import ceil

from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis.stateful import run_state_machine_as_test
from pytest import MonkeyPatch  # noqa: PT013 - outside of a test

from tests.faults.lives import Life
from tests.faults.planted import PLANTED

LONG = 30
"""The most steps of one life."""
LITTER = 16
"""So many lives are bred from one start."""
FIRST = 2
"""Where hunts start; any would do, from here most bugs are met soon."""
SOONER = {
    "a record is acknowledged twice": 9,
    "a signature takes any version": 10,
    "an ended enrolment goes on": 3,
    "every answer agrees": 12,
    "the needle misses a signature": 4,
    "what is void is acknowledged": 4,
}
"""Where hunts for the others start: of a dozen starts one that meets them within four lives."""


@dataclass(frozen=True, slots=True)
class Hunted:
    """How a machine fared: lives lived, acts done, and what went wrong (empty: nothing)."""

    lives: int
    acts: int
    fault: str = ""


def live(lives: int, start: int = 0) -> Hunted:
    """Live so many lives, or until something goes wrong; `start` seeds what is met."""
    machine: type[Life] = type("Counted", (Life,), {"lives": 0, "acts": 0})
    chosen = settings(
        max_examples=lives,
        stateful_step_count=LONG,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        report_multiple_bugs=False,
        suppress_health_check=list(HealthCheck),
    )
    try:
        run_state_machine_as_test(seed(start)(machine), settings=chosen)
    except Exception as fault:  # noqa: BLE001 - whatever it is, the machine has seen it
        return Hunted(machine.lives, machine.acts, f"{type(fault).__name__}: {fault}"[:200])
    return Hunted(machine.lives, machine.acts)


def hunt(bug: str, lives: int) -> Hunted:
    """Plant a bug, live so many lives at most, and pull it out again.

    One start breeds lives that are alike and may breed none that meets the bug: each `LITTER`
    has a start of its own.
    """
    found = Hunted(0, 0)
    with MonkeyPatch.context() as patch:
        PLANTED[bug](patch)
        first = SOONER.get(bug, FIRST)
        for litter in range(ceil(lives / LITTER)):
            more = live(min(LITTER, lives - litter * LITTER), first + litter)
            found = Hunted(found.lives + more.lives, found.acts + more.acts, more.fault)
            if found.fault:
                break
    return found
