"""What on file is about to run out, or just has: documents, endorsements, tests."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from gradebook.records.values import FiledEvent
from syllabus.course import Course

AHEAD = timedelta(days=30)
BEHIND = timedelta(days=14)
"""Told so long before the day, and after it, unless something newer holds longer."""


@dataclass(frozen=True, slots=True)
class Expiring:
    """Something on file: what it is, and the last day it counts."""

    words: str
    on: date

    def is_over(self, today: date) -> bool:
        """Whether it no longer counts."""
        return self.on < today


def longest(filed: Iterable[FiledEvent], code: str, on: date) -> FiledEvent | None:
    """Of all filings of one code the one that holds longest, or held; else the newest."""

    def rank(one: FiledEvent) -> tuple[bool, date, date]:
        counts = one.passed and one.on <= on
        return counts, (one.expires_on or date.max) if counts else date.min, one.on

    mine = sorted((one for one in filed if one.code == code), key=rank)
    return mine[-1] if mine else None


def expiring(course: Course, filed: Iterable[FiledEvent], today: date) -> tuple[Expiring, ...]:
    """Of each kind of filing the one that holds longest, where it ends soon; soonest first."""
    words = {
        one.code: one.words for stage in course.stages for one in (*stage.events, *stage.tests)
    }
    kept = tuple(filed)
    held = ((name, longest(kept, code, today)) for code, name in words.items())
    found = [
        Expiring(name, one.expires_on)
        for name, one in held
        if one is not None
        and one.passed
        and one.expires_on is not None
        and today - BEHIND <= one.expires_on <= today + AHEAD
    ]
    return tuple(sorted(found, key=lambda one: (one.on, one.words)))
