"""Flight-training time of an instructor in any 24 consecutive hours (14 CFR 61.195(a))."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

DAY = timedelta(hours=24)
LIMIT_MINUTES = 8 * 60
CITATION = "14 CFR 61.195(a)"


@dataclass(frozen=True, slots=True)
class Block:
    """One stretch of flight training given, from `starts_at` to `ends_at` (both aware).

    ValueError when a moment has no time zone or the end lies before the start.
    """

    starts_at: datetime
    ends_at: datetime

    def __post_init__(self) -> None:
        if self.starts_at.utcoffset() is None or self.ends_at.utcoffset() is None:
            raise ValueError("Duty times need a time zone.")
        if self.ends_at.astimezone(UTC) < self.starts_at.astimezone(UTC):
            raise ValueError("Flight training cannot end before it starts.")


@dataclass(frozen=True, slots=True)
class DutyVerdict:
    """The busiest 24 hours: minutes of flight training in them, and whether that is allowed.

    `starts_at` and `ends_at` (UTC) bound the window; None when there was no training at all.
    """

    minutes: int
    within: bool
    starts_at: datetime | None
    ends_at: datetime | None
    limit_minutes: int = LIMIT_MINUTES
    citation: str = CITATION

    @property
    def words(self) -> str:
        """The verdict in a sentence."""
        hours = f"{self.minutes // 60} h {self.minutes % 60:02d} min"
        limit = f"{self.limit_minutes // 60} h"
        verdict = "within" if self.within else "over"
        return f"{hours} of flight training in 24 hours: {verdict} the {limit} allowed."


def duty_verdict(blocks: Iterable[Block]) -> DutyVerdict:
    """The most flight training in any rolling 24 hours, exactly, against the 8-hour limit.

    The time inside a window is piecewise linear in where it starts, so its maximum lies at a
    window that starts with a block or ends with one. Blocks that overlap count once. Minutes
    are rounded up, so a part of a minute over the limit is over it.
    """
    merged = _merged(blocks)
    starts = [start for start, _ in merged] + [end - DAY for _, end in merged]
    if not starts:
        return DutyVerdict(0, within=True, starts_at=None, ends_at=None)
    busiest = max(starts, key=lambda start: (_inside(merged, start), -start.timestamp()))
    minutes = -(-_inside(merged, busiest) // timedelta(minutes=1))
    within = minutes <= LIMIT_MINUTES
    return DutyVerdict(minutes, within, starts_at=busiest, ends_at=busiest + DAY)


def _merged(blocks: Iterable[Block]) -> list[tuple[datetime, datetime]]:
    """Blocks as UTC stretches in order, those that touch or overlap joined."""
    merged: list[tuple[datetime, datetime]] = []
    stretches = ((one.starts_at.astimezone(UTC), one.ends_at.astimezone(UTC)) for one in blocks)
    for start, end in sorted(stretches):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return merged


def _inside(merged: list[tuple[datetime, datetime]], start: datetime) -> timedelta:
    """Training time inside the 24 hours from `start`."""
    overlaps = (min(end, start + DAY) - max(begin, start) for begin, end in merged)
    return sum((max(one, timedelta(0)) for one in overlaps), timedelta(0))
