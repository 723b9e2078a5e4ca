"""What clients saw and what the database holds afterwards: held against each other. Pure."""

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields

SIGNED = (303, 200, 201)
"""What a person's signature is answered with, and a phone's letter."""


@dataclass(frozen=True, slots=True)
class Attempt:
    """One request to sign one record: sent and answered on one clock (seconds).

    `status` is None when no answer came. `seq` and `digest` (its beginning) are what the page
    of the record said after a yes.
    """

    record: str
    sent: float
    answered: float
    status: int | None
    seq: int | None = None
    digest: str = ""

    @property
    def acknowledged(self) -> bool:
        """Whether the client was told that the record is signed."""
        return self.status in SIGNED


@dataclass(frozen=True, slots=True)
class Kept:
    """What the database holds of one record: places and digests of its entries, its parts.

    `parts` says of each thing that a signature writes whether it is there.
    """

    places: Sequence[int] = ()
    digests: Sequence[str] = ()
    parts: Mapping[str, bool] = field(default_factory=dict)


FAULTS = ("lost", "half", "disorder", "twice", "unproven", "crashed")


@dataclass(slots=True)
class Tally:
    """The table's row: what clients were told, and what came of it.

    `unknown` requests had no answer; of them, `committed` were stored. From `lost` on all are
    faults: `unproven` are findings of the proof, `crashed` answers with the server's own fault
    (500; 503 only says to wait). `words` say more.
    """

    acknowledged: int = 0
    unknown: int = 0
    committed: int = 0
    lost: int = 0
    half: int = 0
    disorder: int = 0
    twice: int = 0
    unproven: int = 0
    crashed: int = 0
    words: list[str] = field(default_factory=list)

    @property
    def clean(self) -> bool:
        """Whether everything that must be zero is zero."""
        return not any(getattr(self, name) for name in FAULTS)

    def add(self, other: "Tally") -> None:
        """Count another run in."""
        for one in fields(self):
            setattr(self, one.name, getattr(self, one.name) + getattr(other, one.name))


def tally(attempts: Iterable[Attempt], kept: Mapping[str, Kept]) -> Tally:
    """Hold what the clients were told against what is kept of every record."""
    attempts = list(attempts)
    found = Tally()
    for one in attempts:
        held = kept.get(one.record, Kept())
        found.acknowledged += one.acknowledged
        found.unknown += one.status is None
        found.crashed += one.status == 500
        if one.acknowledged and not _is_there(one, held):
            found.lost += 1
            found.words.append(f"lost: {one}; kept is {held}")
    unsure = {one.record for one in attempts if one.status is None}
    told = {one.record for one in attempts if one.acknowledged}
    found.committed = sum(bool(kept.get(one, Kept()).places) for one in unsure - told)
    for record, held in kept.items():
        _whole(record, held, found)
    found.disorder = disorder([one for one in attempts if one.acknowledged], kept)
    return found


def _is_there(one: Attempt, held: Kept) -> bool:
    """Whether an acknowledged record is kept as its client saw it."""
    if one.seq is None:
        return bool(held.places)
    return one.seq in held.places and any(text.startswith(one.digest) for text in held.digests)


def _whole(record: str, held: Kept, found: Tally) -> None:
    there = {bool(held.places), *held.parts.values()}
    if len(there) > 1:
        found.half += 1
        found.words.append(f"half: {record} has {held}")
    if len(held.places) > 1:
        found.twice += 1
        found.words.append(f"twice: {record} at {held.places}")


def disorder(acknowledged: Sequence[Attempt], kept: Mapping[str, Kept]) -> int:
    """How many were answered before another was sent, and yet stand after it.

    O(n log n): for each, the highest place among those answered before it was sent.
    """
    placed = [
        (one, max(kept[one.record].places))
        for one in acknowledged
        if one.record in kept and kept[one.record].places
    ]
    placed.sort(key=lambda pair: pair[0].answered)
    ends = [one.answered for one, _ in placed]
    highest, top = [], 0
    for _, place in placed:
        top = max(top, place)
        highest.append(top)
    wrong = 0
    for one, place in placed:
        before = bisect_left(ends, one.sent)
        wrong += before > 0 and highest[before - 1] > place
    return wrong
