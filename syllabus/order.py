"""How far one order agrees with another: what was moved, by how many edits, how much in all."""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import sqrt

FEWEST_ORDERED = 4


@dataclass(frozen=True, slots=True)
class OrderAgreement:
    """What was moved, as few as possible, and Kendall's tau of all that was done."""

    moved: tuple[str, ...]
    tau: float | None


def agreement(expected: Sequence[str], done: Sequence[str]) -> OrderAgreement:
    """Hold the order in which things were done against the expected one, each thing once there.

    What was left out or does not belong is passed over. Of something done again, the time that
    was in order counts, else the first.
    """
    place = {code: at for at, code in enumerate(expected)}
    inside = [code for code in done if code in place]
    kept = {inside[at]: at for at in longest_in_order([place[code] for code in inside])}
    when = {code: kept.get(code, inside.index(code)) for code in dict.fromkeys(inside)}
    return OrderAgreement(
        moved=tuple(code for code in when if code not in kept),
        tau=kendall_tau([place[code] for code in when], list(when.values())),
    )


def longest_in_order(places: Sequence[int]) -> tuple[int, ...]:
    """Indexes of a longest run of places each above the one before, the same one every time.

    Patience sorting; source: C. Schensted, 'Longest increasing and decreasing
    subsequences', Canadian Journal of Mathematics 13 (1961) 179-191 (from memory).
    """
    piles: list[int] = []  # the lowest place that ends a run of each length
    ends: list[int] = []  # and its index
    before: list[int | None] = []
    for index, place in enumerate(places):
        pile = bisect_left(piles, place)
        piles[pile : pile + 1] = [place]
        ends[pile : pile + 1] = [index]
        before.append(ends[pile - 1] if pile else None)
    found: list[int] = []
    at = ends[-1] if ends else None
    while at is not None:
        found.append(at)
        at = before[at]
    return tuple(reversed(found))


def kendall_tau(first: Sequence[int], second: Sequence[int]) -> float | None:
    """Kendall's tau-b of two rankings of the same things, -1 to 1; ties are allowed.

    None below four things, and when all of either ranking is tied: an order of so few says
    nothing. ValueError for rankings of different length. Source: M. G. Kendall, 'The treatment
    of ties in ranking problems', Biometrika 33 (1945) 239-251 (from memory).
    """
    signs = list(_signs(first, second))
    one = sum(left != 0 for left, _ in signs)
    other = sum(right != 0 for _, right in signs)
    if len(first) < FEWEST_ORDERED or not one or not other:
        return None
    return sum(left * right for left, right in signs) / sqrt(one * other)


def _signs(first: Sequence[int], second: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Which way each pair of things goes in either ranking: 1 up, -1 down, 0 tied."""
    ranks = list(zip(first, second, strict=True))
    for place, (left, right) in enumerate(ranks):
        for left_later, right_later in ranks[place + 1 :]:
            yield _sign(left_later - left), _sign(right_later - right)


def _sign(difference: int) -> int:
    return (difference > 0) - (difference < 0)


def damerau_distance(expected: Sequence[str], done: Sequence[str]) -> int:
    """Fewest edits that turn one sequence into the other, in Damerau's unrestricted form.

    An edit leaves one out, puts one in, takes one for another or swaps two neighbours, between
    which more may then be put in or left out (`sequence.distance` forbids that). Source:
    R. Lowrance and R. A. Wagner, 'An extension of the string-to-string correction problem',
    Journal of the ACM 22 (1975) 177-183 (from memory).
    """
    far = len(expected) + len(done)
    costs = {(i, -1): far for i in range(-1, len(expected) + 1)}
    costs |= {(-1, j): far for j in range(len(done) + 1)}
    costs |= {(i, 0): i for i in range(len(expected) + 1)}
    costs |= {(0, j): j for j in range(len(done) + 1)}
    last_row: dict[str, int] = {}
    for i, wanted in enumerate(expected, 1):
        last_column = 0
        for j, got in enumerate(done, 1):
            row, column = last_row.get(got, 0), last_column
            if wanted == got:
                last_column = j
            crossed = costs[row - 1, column - 1] + (i - row - 1) + 1 + (j - column - 1)
            other = costs[i - 1, j - 1] + (wanted != got)
            costs[i, j] = min(crossed, other, costs[i - 1, j] + 1, costs[i, j - 1] + 1)
        last_row[wanted] = i
    return costs[len(expected), len(done)]
