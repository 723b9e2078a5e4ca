"""Probes of proofs: every kind of slip in size, place, hash and path, worked out here.

Of the kind of `testdata` in github.com/transparency-dev/merkle, made anew from the published
leaves: a few proofs that hold, and everything near them, which must not.
"""

from dataclasses import dataclass, field, replace

from gradebook.ledger import tree
from tests.ledger.golden import LEAVES

OTHER = bytes(range(32))


@dataclass(frozen=True)
class Probe:
    """Numbers (place or old size, and size), two hashes, a path, and whether it holds."""

    name: str
    first: int
    size: int
    one: bytes
    root: bytes
    path: tuple[bytes, ...]
    holds: bool = field(default=True)

    def spoilt(self, how: str, **changes: object) -> "Probe":
        return replace(self, name=f"{self.name}, {how}", holds=False, **changes)

    def as_json(self) -> list[object]:
        hashes = [self.one.hex(), self.root.hex(), [step.hex() for step in self.path]]
        return [self.first, self.size, *hashes]


def _rows() -> list[list[bytes]]:
    rows: list[list[bytes]] = []
    for leaf in LEAVES:
        rows.append(
            tree.append(
                len(rows), tree.leaf_hash(leaf), lambda row, level: rows[row - 1][level]
            )
        )
    return rows


ROWS = _rows()


def node_at(row: int, level: int) -> bytes:
    return ROWS[row - 1][level]


def _unlike(value: bytes) -> tuple[tuple[str, bytes], ...]:
    return ("other", OTHER), ("short", value[:-1]), ("long", value + b"\0")


def _around(good: Probe, firsts: range) -> list[Probe]:
    """Everything near a good one that must not hold."""
    found = [good.spoilt(f"place {one}", first=one) for one in firsts if one != good.first]
    found += [good.spoilt(f"size {one}", size=one) for one in (-1, 0) if one != good.size]
    for name, value in (("one", good.one), ("root", good.root)):
        for how, other in (
            ("other", OTHER),
            ("short", value[:-1]),
            ("long", value + b"\0"),
            ("empty", b""),
        ):
            found.append(good.spoilt(f"{name} {how}", **{name: other}))
    path = good.path
    longer = {
        "before": (OTHER, *path),
        "after": (*path, OTHER),
        "root after": (*path, good.root),
        "root before": (good.root, *path),
        "empty step": (*path, b""),
    }
    found += [good.spoilt(how, path=one) for how, one in longer.items()]
    for at, step in enumerate(path):
        for how, one in (("other", OTHER), ("short", step[:-1]), ("long", step + b"\0")):
            found.append(
                good.spoilt(f"step {at} {how}", path=(*path[:at], one, *path[at + 1 :]))
            )
        found.append(good.spoilt(f"without step {at}", path=(*path[:at], *path[at + 1 :])))
    if len(set(path)) > 1:
        found.append(good.spoilt("reversed", path=path[::-1]))
    return found


def inclusions() -> list[Probe]:
    """Six that hold, and all those around them."""
    found = []
    for index, size in ((0, 1), (0, 8), (5, 8), (2, 3), (1, 5), (4, 5)):
        path = tuple(tree.inclusion(index, size, node_at))
        leaf, root = node_at(index + 1, 0), tree.root_at(size, node_at)
        good = Probe(f"{index} of {size}", index, size, leaf, root, path)
        found += [good, *_around(good, range(-1, size + 2))]
    return found


def consistencies() -> list[Probe]:
    """Six that hold, and all those around them; an old size of 0 proves nothing."""
    found = []
    for old, new in ((1, 1), (1, 8), (6, 8), (2, 5), (3, 7), (4, 8)):
        path = tuple(tree.consistency(old, new, node_at))
        before, after = tree.root_at(old, node_at), tree.root_at(new, node_at)
        good = Probe(f"{old} to {new}", old, new, before, after, path)
        found += [good, *_around(good, range(-1, new + 2))]
        if old < new:
            found.append(good.spoilt("swapped", one=after, root=before))
            found.append(good.spoilt("backwards", first=new, size=old, one=after, root=before))
    empty, whole = tree.root([]), tree.root_at(8, node_at)
    for size, root in ((8, whole), (0, empty), (1, tree.root_at(1, node_at))):
        found.append(Probe(f"nothing to {size}", 0, size, empty, root, (), holds=False))
        found.append(
            Probe(f"nothing to {size}, a step", 0, size, empty, root, (root,), holds=False)
        )
    return found
