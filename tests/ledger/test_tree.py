"""The tree: published roots and proofs, and every proof of every small size."""

from hashlib import sha256

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradebook.ledger import tree
from tests.ledger.golden import (
    CONSISTENCIES,
    INCLUSIONS,
    LEAF_HASHES,
    LEAVES,
    LEDGER_ROOT,
    ROOTS,
)

SIZE = 70


class Rows:
    """What a database keeps: the hashes of each row, as `append` returned them."""

    def __init__(self, leaves: list[bytes]) -> None:
        self.kept: list[list[bytes]] = []
        for leaf in leaves:
            self.kept.append(tree.append(len(self.kept), leaf, self.node_at))

    def node_at(self, row: int, level: int) -> bytes:
        return self.kept[row - 1][level]


DATA = [sha256(bytes([n])).digest()[: n % 40] for n in range(SIZE)]
ROWS = Rows([tree.leaf_hash(one) for one in DATA])
KNOWN = Rows([tree.leaf_hash(one) for one in LEAVES])
ROOT_AT = [tree.root_at(size, ROWS.node_at) for size in range(SIZE + 1)]


def as_hex(proof: list[bytes]) -> list[str]:
    return [one.hex() for one in proof]


@pytest.mark.parametrize("size", range(9))
def test_published_roots(size: int) -> None:
    assert tree.root(LEAVES[:size]) == ROOTS[size]
    assert tree.root_at(size, KNOWN.node_at) == ROOTS[size]


def test_published_hashes_of_a_leaf_and_a_node() -> None:
    # github.com/transparency-dev/merkle, rfc6962/rfc6962_test.go
    leaf = "395aa064aa4c29f7010acfe3f25db9485bbd4b91897b6ad7ad547639252b4d56"
    node = "aa217fe888e47007fa15edab33c2b492a722cb106c64667fc2b044444de66bbb"
    assert tree.leaf_hash(b"L123456").hex() == leaf
    assert tree.node_hash(b"N123", b"N456").hex() == node


@pytest.mark.parametrize(("index", "size"), INCLUSIONS)
def test_published_inclusion_proofs(index: int, size: int) -> None:
    assert as_hex(tree.inclusion(index, size, KNOWN.node_at)) == INCLUSIONS[index, size]


@pytest.mark.parametrize(("old", "new"), CONSISTENCIES)
def test_published_consistency_proofs(old: int, new: int) -> None:
    assert as_hex(tree.consistency(old, new, KNOWN.node_at)) == CONSISTENCIES[old, new]


def test_the_root_of_the_small_ledger() -> None:
    assert tree.root_at(3, Rows(LEAF_HASHES).node_at) == LEDGER_ROOT


def test_rows_lead_to_the_root_over_all_leaves() -> None:
    assert [tree.root(DATA[:size]) for size in range(SIZE + 1)] == ROOT_AT


def test_a_row_keeps_one_hash_for_each_part_it_completes() -> None:
    assert [len(row) for row in ROWS.kept[:8]] == [1, 2, 1, 3, 1, 2, 1, 4]


@pytest.mark.parametrize(
    ("size", "wanted"), [(0, []), (1, [(1, 0)]), (7, [(4, 2), (6, 1), (7, 0)]), (8, [(8, 3)])]
)
def test_a_root_wants_few_rows(size: int, wanted: list[tuple[int, int]]) -> None:
    assert tree.wanted_rows(size) == wanted


def test_every_inclusion_proof_holds_and_for_no_other_place() -> None:
    for size in range(1, SIZE + 1):
        for index in range(size):
            proof = tree.inclusion(index, size, ROWS.node_at)
            leaf = ROWS.node_at(index + 1, 0)
            held = [
                other
                for other in range(-1, size + 2)
                if tree.verify_inclusion(other, size, leaf, proof, ROOT_AT[size])
            ]
            assert held == [index]


def test_every_consistency_proof_holds() -> None:
    for new in range(1, SIZE + 1):
        for old in range(1, new + 1):
            proof = tree.consistency(old, new, ROWS.node_at)
            assert tree.verify_consistency(old, new, ROOT_AT[old], ROOT_AT[new], proof)


@given(st.data())
@settings(max_examples=400, deadline=None)
def test_an_inclusion_proof_with_a_changed_byte_fails(data: st.DataObject) -> None:
    size = data.draw(st.integers(2, SIZE))
    index = data.draw(st.integers(0, size - 1))
    parts = [
        ROWS.node_at(index + 1, 0),
        ROOT_AT[size],
        *tree.inclusion(index, size, ROWS.node_at),
    ]
    leaf, root, *proof = spoilt(parts, data)
    assert not tree.verify_inclusion(index, size, leaf, proof, root)


@given(st.data())
@settings(max_examples=400, deadline=None)
def test_a_consistency_proof_with_a_changed_byte_fails(data: st.DataObject) -> None:
    new = data.draw(st.integers(2, SIZE))
    old = data.draw(st.integers(1, new - 1))
    parts = [ROOT_AT[old], ROOT_AT[new], *tree.consistency(old, new, ROWS.node_at)]
    old_root, new_root, *proof = spoilt(parts, data)
    assert not tree.verify_consistency(old, new, old_root, new_root, proof)


def spoilt(parts: list[bytes], data: st.DataObject) -> list[bytes]:
    """The same hashes, one bit of one of them turned over."""
    which = data.draw(st.integers(0, len(parts) - 1))
    place = data.draw(st.integers(0, 255))
    changed = bytearray(parts[which])
    changed[place // 8] ^= 1 << place % 8
    return [*parts[:which], bytes(changed), *parts[which + 1 :]]


@pytest.mark.parametrize("size", [1, 2, 3, 5, 8, 13, 70])
def test_proofs_too_short_too_long_or_of_odd_hashes_fail(size: int) -> None:
    root, index = ROOT_AT[size], size // 2
    leaf, proof = ROWS.node_at(index + 1, 0), tree.inclusion(index, size, ROWS.node_at)
    wrong = [[*proof, leaf], [leaf, *proof], [*proof, root], [*proof, b""], [b"x", *proof]]
    wrong += [proof[1:], proof[:-1], proof[::-1]] if len(proof) > 1 else []
    assert not any(tree.verify_inclusion(index, size, leaf, one, root) for one in wrong)
    assert not tree.verify_inclusion(index, size, leaf[:-1], proof, root)


@pytest.mark.parametrize(("old", "new"), [(1, 8), (6, 8), (2, 5), (7, 70), (64, 70), (8, 8)])
def test_consistency_proofs_too_short_too_long_or_swapped_fail(old: int, new: int) -> None:
    before, after = ROOT_AT[old], ROOT_AT[new]
    proof = tree.consistency(old, new, ROWS.node_at)
    wrong = [[*proof, after], [before, *proof], [b"", *proof], [*proof, b"x"]]
    wrong += [proof[1:], proof[:-1]] if proof else []
    assert not any(tree.verify_consistency(old, new, before, after, one) for one in wrong)
    if old < new:
        assert not tree.verify_consistency(old, new, after, before, proof)
        assert not tree.verify_consistency(old, new, before, after, [])
        assert not tree.verify_consistency(new, old, after, before, proof)
        assert not tree.verify_consistency(old + 1, new, before, after, proof)


def test_an_empty_old_tree_proves_nothing() -> None:
    assert not tree.verify_consistency(0, 8, ROOT_AT[0], ROOT_AT[8], [])
    assert not tree.verify_consistency(0, 0, ROOT_AT[0], ROOT_AT[0], [])
    with pytest.raises(ValueError, match="continue"):
        tree.consistency(0, 8, ROWS.node_at)


def test_a_leaf_beyond_the_tree_has_no_proof() -> None:
    with pytest.raises(ValueError, match="no leaf 8"):
        tree.inclusion(8, 8, ROWS.node_at)
