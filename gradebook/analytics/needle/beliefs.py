"""What the needle knows about one student: compact, exact, and storable."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gradebook.analytics.needle.floats import Floats, Ints
from gradebook.analytics.needle.parameters import ARITHMETIC

MARK = np.array(ARITHMETIC, "<f8").tobytes()
"""How beliefs of this arithmetic begin."""


def is_current(raw: bytes) -> bool:
    """Whether these bytes are beliefs of this arithmetic."""
    return raw.startswith(MARK)


@dataclass(frozen=True, slots=True)
class Beliefs:
    """One student after some lessons, for M learning speeds and the J tasks met so far.

    Given the student's ability a, the skill of task j at speed m is normal with mean `offset[m,
    j] + loading[m, j] * a` and variance `residual[m, j]`, the tasks independent. `path` and
    `lean` [M, J] are what offset and loading would be but for the grades. Ability at speed m
    has precision `precision[m]` and mean `pull[m] / precision[m]`; speed m has chance
    `weight[m]`. `attempts` [J] counts graded attempts, `last_day` [J] is the day number of the
    last one (nan: unknown).
    """

    tasks: tuple[str, ...]
    offset: Floats
    loading: Floats
    residual: Floats
    path: Floats
    lean: Floats
    attempts: Floats
    last_day: Floats
    weight: Floats
    precision: Floats
    pull: Floats

    def met(self, tasks: Sequence[str]) -> tuple[Ints, Ints]:
        """Where in `tasks` those stand that were met before, and the column of each."""
        column = {name: place for place, name in enumerate(self.tasks)}
        found = [at for at, name in enumerate(tasks) if name in column]
        columns = [column[tasks[at]] for at in found]
        return np.array(found, np.intp), np.array(columns, np.intp)

    def as_bytes(self) -> bytes:
        """All numbers as little-endian doubles: 1 + 3 M + (5 M + 2) J of them.

        The first is `ARITHMETIC`.
        """
        parts = (self.weight, self.precision, self.pull, self.offset, self.loading)
        tail = (self.residual, self.path, self.lean, self.attempts, self.last_day)
        flat = np.concatenate([np.ravel(one) for one in (*parts, *tail)])
        return MARK + flat.astype("<f8").tobytes()


def beliefs_from(tasks: Sequence[str], raw: bytes, nodes: int) -> Beliefs:
    """The beliefs `Beliefs.as_bytes` wrote.

    ValueError when they are of another arithmetic or their length does not fit.
    """
    if not is_current(raw):
        raise ValueError("These beliefs were kept by another arithmetic.")
    flat, j, m = np.frombuffer(raw, "<f8")[1:].astype(float), len(tasks), nodes
    if len(flat) != 3 * m + (5 * m + 2) * j:
        raise ValueError("These beliefs were kept for other tasks or another number of speeds.")
    sizes = [m, m, m, *[m * j] * 5, j, j]
    parts = np.split(flat, np.cumsum(sizes)[:-1])
    weight, precision, pull = parts[:3]
    offset, loading, residual, path, lean = (one.reshape(m, j) for one in parts[3:8])
    attempts, last = parts[8:]
    return Beliefs(
        tuple(tasks),
        offset,
        loading,
        residual,
        path,
        lean,
        attempts,
        last,
        weight,
        precision,
        pull,
    )
