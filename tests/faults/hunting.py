"""Letting the machine live, and how soon it meets a planted bug."""

from dataclasses import dataclass

from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test
from pytest import MonkeyPatch  # noqa: PT013 - outside of a test

from tests.faults.lives import Life
from tests.faults.planted import PLANTED

LONG = 30
"""The most steps of one life."""


@dataclass(frozen=True, slots=True)
class Hunted:
    """How a machine fared: lives lived, acts done, and what went wrong (empty: nothing)."""

    lives: int
    acts: int
    fault: str = ""


def live(lives: int) -> Hunted:
    """Live so many lives, or until something goes wrong."""
    machine: type[Life] = type("Counted", (Life,), {"lives": 0, "acts": 0})
    chosen = settings(
        max_examples=lives,
        stateful_step_count=LONG,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        report_multiple_bugs=False,
        suppress_health_check=list(HealthCheck),
    )
    try:
        run_state_machine_as_test(machine, settings=chosen)
    except Exception as fault:  # noqa: BLE001 - whatever it is, the machine has seen it
        return Hunted(machine.lives, machine.acts, f"{type(fault).__name__}: {fault}"[:200])
    return Hunted(machine.lives, machine.acts)


def hunt(bug: str, lives: int) -> Hunted:
    """Plant a bug, live, and pull it out again."""
    with MonkeyPatch.context() as patch:
        PLANTED[bug](patch)
        return live(lives)
