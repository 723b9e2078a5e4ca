"""A record lives as it should whoever does what, and the machine that says so can see."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.faults.lives import Life
from tests.faults.planted import PLANTED

LIVES, LONG = 25, 30
SEARCH = 80
"""The most lives lived before a planted bug must have shown."""


def live(machine: type[Life], lives: int) -> None:
    """Live so many lives; the first thing that goes wrong is raised."""
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
    run_state_machine_as_test(machine, settings=chosen)


def a_machine() -> type[Life]:
    """A machine that counts for itself."""
    return type("Counted", (Life,), {"lives": 0, "acts": 0})


def test_a_record_lives_as_it_should() -> None:
    machine = a_machine()
    live(machine, LIVES)
    assert machine.acts >= LIVES * 10


@pytest.mark.parametrize("bug", PLANTED)
def test_a_planted_bug_is_found(
    bug: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    machine = a_machine()
    PLANTED[bug](monkeypatch)
    with pytest.raises(Exception) as told:
        live(machine, SEARCH)
    kind = type(told.value).__name__
    (tmp_path / "found").write_text(f"{bug}: {kind} after {machine.lives} lives")
    print(
        f"{bug}: {kind} after {machine.lives} lives, {machine.acts} acts: {str(told.value)[:150]!r}"
    )
