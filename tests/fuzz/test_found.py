"""Rubbish that once let a fault out, and files to begin with: read without the fuzzer."""

from pathlib import Path

import pytest

from tests.fuzz.targets import TARGETS

FOUND = Path(__file__).with_name("found")
INPUTS = [
    *((name, seed) for name, target in TARGETS.items() for seed in target.seeds[:5]),
    *(
        (path.parent.name, path.read_bytes())
        for path in sorted(FOUND.glob("*/*"))
        if path.parent.name in TARGETS
    ),
]


@pytest.mark.parametrize("number", range(len(INPUTS)))
def test_nothing_but_its_own_refusal_comes_of_it(number: int) -> None:
    name, data = INPUTS[number]
    TARGETS[name].read(data)
