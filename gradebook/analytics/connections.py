"""Which instructors can be compared: who is linked to whom by students they both graded."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components, minimum_spanning_tree

WEAK = 20


@dataclass(frozen=True, slots=True)
class Link:
    """Two instructors and how many grades of shared students the weaker side gave them."""

    one: str
    other: str
    shared: int


@dataclass(frozen=True, slots=True)
class Connections:
    """Groups of instructors that students link, the largest first, and the links that are weak.

    Severity compares only within a group. A weak link is one on which a group hangs together
    although it rests on fewer than 20 shared grades.
    """

    groups: tuple[tuple[str, ...], ...]
    weak: tuple[Link, ...]

    def comparable(self, one: str, other: str) -> bool:
        """Whether any chain of students links the two."""
        return any({one, other} <= set(group) for group in self.groups)


def connect(grades: pd.DataFrame) -> Connections:
    """Groups and weak links of the graph of instructors and their students.

    Two instructors share, for each student both graded, the smaller of their numbers of grades.
    Of all chains of links the strongest are kept (a maximum spanning tree); those below 20 are
    weak. No grades give no groups; one instructor is a group alone.

    Parameters
    ----------
    grades : frame, one row a grade
        Columns `instructor` and `student`.

    References
    ----------
    Common practice in many-facet measurement (from memory); the tree is our own way to say
    which links matter.
    """
    counts = pd.crosstab(grades["instructor"], grades["student"])
    names = [str(name) for name in counts.index]
    if not names:
        return Connections((), ())
    shared = _shared(counts.to_numpy(dtype=np.int64))
    _, labels = connected_components(csr_array((shared > 0).astype(float)), directed=False)
    groups = [
        tuple(name for name, label in zip(names, labels, strict=True) if label == wanted)
        for wanted in range(int(labels.max()) + 1)
    ]
    costs = np.divide(1.0, shared, out=np.zeros(shared.shape), where=shared > 0)
    kept = minimum_spanning_tree(csr_array(costs)).nonzero()
    links = [
        Link(min(names[i], names[j]), max(names[i], names[j]), int(shared[i, j]))
        for i, j in zip(*kept, strict=True)
        if shared[i, j] < WEAK
    ]
    return Connections(
        groups=tuple(sorted(groups, key=lambda group: (-len(group), group))),
        weak=tuple(sorted(links, key=lambda link: (link.shared, link.one, link.other))),
    )


def _shared(counts: NDArray[np.int64]) -> NDArray[np.int64]:
    """Shared grades of each pair of instructors, from grades by (instructor, student)."""
    shared = np.array([np.minimum(row, counts).sum(axis=1) for row in counts])
    np.fill_diagonal(shared, 0)
    return shared
