"""Orders held against each other: what was moved, how many edits, how much agreement."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import kendalltau

from syllabus.order import agreement, damerau_distance, kendall_tau, longest_in_order
from syllabus.sequence import distance

FLOW = "abcdefgh"
RANKS = st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4)), min_size=4, max_size=12)


@pytest.mark.parametrize(
    ("places", "length"),
    [
        (
            (0, 8, 4, 12, 2, 10, 6, 14, 1, 9, 5, 13, 3, 11, 7, 15),
            6,
        ),  # van der Corput, from memory
        ((), 0),
        ((3,), 1),
        ((0, 1), 2),
        ((1, 0), 1),
        ((2, 2, 2), 1),
    ],
)
def test_the_longest_run_in_order_has_the_known_length(places, length):
    assert len(longest_in_order(places)) == length


@given(st.lists(st.integers(0, 9), max_size=9))
def test_no_subsequence_in_order_is_longer(places):
    found = longest_in_order(places)
    assert list(found) == sorted(found)
    kept = [places[at] for at in found]
    assert kept == sorted(set(kept))
    longer = combinations(places, len(found) + 1)
    assert not any(list(one) == sorted(set(one)) for one in longer)


@pytest.mark.parametrize(
    ("first", "second", "tau"),
    [
        ((12, 2, 1, 12, 2), (1, 4, 7, 1, 0), -0.4714),  # scipy's documentation, from memory
        ((1, 2, 3, 4, 5), (3, 4, 1, 2, 5), 0.2),  # computed with scipy
        ((1, 2, 3, 4), (4, 3, 2, 1), -1.0),
    ],
)
def test_tau_has_the_known_value(first, second, tau):
    assert kendall_tau(first, second) == pytest.approx(tau, abs=5e-5)


@given(RANKS)
def test_tau_agrees_with_scipy(ranks):
    first, second = zip(*ranks, strict=True)
    ours = kendall_tau(first, second)
    if len(set(first)) == 1 or len(set(second)) == 1:
        assert ours is None
    else:
        assert ours == pytest.approx(kendalltau(first, second).statistic, abs=1e-12)


@pytest.mark.parametrize("n", [0, 1, 2, 3])
def test_below_four_things_there_is_no_tau(n):
    assert kendall_tau(range(n), range(n)) is None


def test_rankings_of_different_things_are_refused():
    with pytest.raises(ValueError, match="shorter"):
        kendall_tau((1, 2, 3, 4), (1, 2, 3))


@pytest.mark.parametrize(
    ("expected", "done", "edits"),
    [
        ("ca", "abc", 2),  # the restricted distance is 3; computed with rapidfuzz
        ("kitten", "sitting", 3),
        ("abcd", "acbd", 1),
        ("", "", 0),
        ("a", "", 1),
        ("", "ab", 2),
    ],
)
def test_the_unrestricted_distance_has_the_known_value(expected, done, edits):
    assert damerau_distance(expected, done) == edits


def fewest_edits(start: str, goal: str) -> int:
    """Edits one by one from every string reached, over the letters of both: the definition."""
    letters, reached, edits = {*start, *goal}, {start}, 0
    while goal not in reached:
        reached = {near for one in reached for near in neighbours(one, letters)}
        edits += 1
    return edits


def neighbours(text: str, letters: set[str]) -> set[str]:
    cuts = [(text[:at], text[at:]) for at in range(len(text) + 1)]
    left_out = {head + tail[1:] for head, tail in cuts if tail}
    put_in = {head + letter + tail for head, tail in cuts for letter in letters}
    other = {head + letter + tail[1:] for head, tail in cuts if tail for letter in letters}
    swapped = {head + tail[1] + tail[0] + tail[2:] for head, tail in cuts if len(tail) > 1}
    return left_out | put_in | other | swapped


@given(st.text("abc", max_size=4), st.text("abc", max_size=4))
def test_the_unrestricted_distance_is_the_fewest_single_edits(expected, done):
    assert damerau_distance(expected, done) == fewest_edits(expected, done)
    assert damerau_distance(expected, done) <= distance(expected, done)


def test_one_item_done_last_is_one_item_moved():
    # longest run 7, tau .57, though two edits (computed with scipy)
    found = agreement(FLOW, "acdefghb")
    assert found.moved == ("b",)
    assert found.tau == pytest.approx(0.5714, abs=5e-5)


def test_in_order_nothing_was_moved():
    assert agreement(FLOW, FLOW) == agreement(FLOW, "abbcdefgh")
    assert (agreement(FLOW, FLOW).moved, agreement(FLOW, FLOW).tau) == ((), 1.0)


def test_backwards_all_but_one_were_moved():
    found = agreement(FLOW, FLOW[::-1])
    assert (len(found.moved), found.tau) == (7, -1.0)


def test_what_was_done_early_and_again_in_its_place_was_not_moved():
    assert agreement("abcde", "dabcde").moved == ()


@pytest.mark.parametrize("done", ["", "a", "ab", "xyz"])
def test_so_little_done_in_order_says_nothing(done):
    found = agreement(FLOW, done)
    assert (found.moved, found.tau) == ((), None)


def test_an_empty_flow_moves_nothing():
    assert agreement("", "abcd").moved == ()


@given(st.lists(st.sampled_from("abcdxyz"), max_size=10))
def test_without_what_was_moved_the_rest_is_in_order(done):
    moved = agreement("abcd", done).moved
    rest = [one for one in done if one in "abcd" and one not in moved]
    assert set(moved) <= set(done)
    assert agreement("abcd", rest).moved == ()
