"""One spoilt record for every number, the same at each run."""

import numpy as np

from tests.ledger.small_ledger import GOOD, good_fields, written
from tests.ledger.spoilt_files import CONTENT

LIKELY = b'0123456789abcdef"\\,:{}[] \n'
"""Bytes that may leave a file readable."""
NOTHING_LEFT = (LookupError, AssertionError, TypeError, AttributeError, ValueError)
"""One way left nothing for the next to spoil."""


def mutated(seed: int, number: int) -> tuple[str, bytes]:
    """Name and bytes of the record of this number: fields spoilt (half), bytes, or both."""
    dice = np.random.default_rng([seed, number])
    names, data = _fields(dice) if number % 4 else ([], GOOD)
    if number % 4 < 2:
        data = _bytes(dice, data)
        names = [*names, "bytes"]
    return f"{seed}/{number}: {', '.join(names)}", data


def _fields(dice: np.random.Generator) -> tuple[list[str], bytes]:
    fields, done = good_fields(), []
    for name in dice.choice(list(CONTENT), int(dice.integers(1, 4)), replace=False):
        try:
            CONTENT[name][1](fields)
            done.append(str(name))
        except NOTHING_LEFT:
            break
    return done, written(fields)


def _bytes(dice: np.random.Generator, data: bytes) -> bytes:
    for _ in range(int(dice.integers(1, 4))):
        at, new = int(dice.integers(len(data))), int(dice.integers(256))
        if dice.random() < 0.6:
            new = int(dice.choice(list(LIKELY)))
        end = at + int(dice.choice([0, 1, 1, 1, 2, 40]))  # put in, replace, cut out
        data = data[:at] + bytes([new]) + data[end:]
    return data
