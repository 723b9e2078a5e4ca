"""The Merkle tree of RFC 9162 (2.1), kept as rows that are only ever added.

Row m, the m-th leaf counted from 1, stores the hashes that this leaf completes: level 0 is the
leaf itself, level k the whole subtree of 2**k leaves that ends with it. Nothing stored changes
when the tree grows, and every root and proof is made of a few stored hashes.
"""

import hashlib
from collections.abc import Callable, Sequence

NodeAt = Callable[[int, int], bytes]  # row and level to the hash stored there
HASH_LENGTH = 32  # bytes


def leaf_hash(data: bytes) -> bytes:
    """SHA-256 of a leaf's data behind a zero byte."""
    return hashlib.sha256(b"\0" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """SHA-256 of two hashes behind a one byte."""
    return hashlib.sha256(b"\1" + left + right).digest()


def root(leaves: Sequence[bytes]) -> bytes:
    """The root over the data of all leaves, in order; the plain definition."""
    if not leaves:
        return hashlib.sha256(b"").digest()
    if len(leaves) == 1:
        return leaf_hash(leaves[0])
    half = _split(len(leaves))
    return node_hash(root(leaves[:half]), root(leaves[half:]))


def _split(size: int) -> int:
    """The largest power of two below `size` (at least 2)."""
    return 1 << ((size - 1).bit_length() - 1)


def append(size_before: int, leaf: bytes, node_at: NodeAt) -> list[bytes]:
    """What the new row stores, level 0 first, when `leaf` (its hash) joins the tree."""
    row = size_before + 1
    nodes = [leaf]
    while row % (1 << len(nodes)) == 0:
        level = len(nodes) - 1
        nodes.append(node_hash(node_at(row - (1 << level), level), nodes[-1]))
    return nodes


def wanted_rows(size: int) -> list[tuple[int, int]]:
    """Row and level of the hashes the root of `size` leaves is made of, largest first."""
    peaks = []
    row = 0
    for level in reversed(range(size.bit_length())):
        if size >> level & 1:
            row += 1 << level
            peaks.append((row, level))
    return peaks


def root_at(size: int, node_at: NodeAt) -> bytes:
    """The root of the first `size` leaves."""
    if size == 0:
        return root([])
    *peaks, made = (node_at(row, level) for row, level in wanted_rows(size))
    for peak in reversed(peaks):
        made = node_hash(peak, made)
    return made


def _over(start: int, size: int, node_at: NodeAt) -> bytes:
    """The root over `size` leaves after the first `start`, as the tree splits them."""
    if size & (size - 1) == 0:
        return node_at(start + size, size.bit_length() - 1)
    half = _split(size)
    return node_hash(_over(start, half, node_at), _over(start + half, size - half, node_at))


def inclusion(index: int, size: int, node_at: NodeAt) -> list[bytes]:
    """The proof that leaf `index` (from 0) is in the tree of `size`; else ValueError."""
    if not 0 <= index < size:
        raise ValueError(f"no leaf {index} in a tree of {size}")
    proof: list[bytes] = []
    start = 0
    while size > 1:
        half = _split(size)
        if index < start + half:
            proof.append(_over(start + half, size - half, node_at))
            size = half
        else:
            proof.append(_over(start, half, node_at))
            start, size = start + half, size - half
    return proof[::-1]


def consistency(old: int, new: int, node_at: NodeAt) -> list[bytes]:
    """The proof that the tree of `new` leaves begins with that of `old`.

    ValueError unless 1 <= old <= new: an empty tree proves nothing.
    """
    if not 1 <= old <= new:
        raise ValueError(f"a tree of {new} cannot be shown to continue one of {old}")
    proof: list[bytes] = []
    start, size, known = 0, new, True  # known: the verifier holds this part's hash as its root
    while start + size != old:
        half = _split(size)
        if old <= start + half:
            proof.append(_over(start + half, size - half, node_at))
            size = half
        else:
            proof.append(_over(start, half, node_at))
            start, size, known = start + half, size - half, False
    if not known:
        proof.append(_over(start, size, node_at))
    return proof[::-1]


def verify_inclusion(
    index: int, size: int, leaf: bytes, proof: Sequence[bytes], root: bytes
) -> bool:
    """Whether `leaf` (its hash) is number `index` (from 0) of the tree (RFC 9162 2.1.3.2)."""
    if not 0 <= index < size or not _all_hashes([leaf, root, *proof]):
        return False
    place, last, made = index, size - 1, leaf
    for step in proof:
        if last == 0:
            return False
        if place & 1 or place == last:
            made = node_hash(step, made)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            made = node_hash(made, step)
        place, last = place >> 1, last >> 1
    return last == 0 and made == root


def verify_consistency(
    old: int, new: int, old_root: bytes, new_root: bytes, proof: Sequence[bytes]
) -> bool:
    """Whether the tree of `new` leaves begins with that of `old` (RFC 9162 2.1.4.2).

    An empty old tree is refused, and so is any hash that is not 32 bytes long.
    """
    if not 1 <= old <= new or not _all_hashes([old_root, new_root, *proof]):
        return False
    if old == new:
        return not proof and old_root == new_root
    place, last = old - 1, new - 1
    while place & 1:
        place, last = place >> 1, last >> 1
    steps = list(proof) if place else [old_root, *proof]
    return bool(steps) and _both_roots(place, last, steps) == (old_root, new_root)


def _both_roots(place: int, last: int, steps: Sequence[bytes]) -> tuple[bytes, bytes] | None:
    """The old and the new root that the steps lead to; None if they are too many or too few."""
    old = new = steps[0]
    for step in steps[1:]:
        if last == 0:
            return None
        if place & 1 or place == last:
            old, new = node_hash(step, old), node_hash(step, new)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            new = node_hash(new, step)
        place, last = place >> 1, last >> 1
    return None if last else (old, new)


def _all_hashes(values: Sequence[bytes]) -> bool:
    return all(len(value) == HASH_LENGTH for value in values)
