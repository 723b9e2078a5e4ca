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


def expiring(course: Course, filed: Iterable[FiledEvent], today: date) -> tuple[Expiring, ...]:
    """Of each kind of filing the one that holds longest, where it ends soon; soonest first."""
    words = {
        one.code: one.words for stage in course.stages for one in (*stage.events, *stage.tests)
    }
    last: dict[str, date] = {}
    for one in filed:
        if one.passed and one.code in words:
            ends = one.expires_on or date.max
            last[one.code] = max(ends, last.get(one.code, date.min))
    near = ((code, ends) for code, ends in last.items() if ends != date.max)
    found = [
        Expiring(words[code], ends)
        for code, ends in near
        if today - BEHIND <= ends <= today + AHEAD
    ]
    return tuple(sorted(found, key=lambda one: (one.on, one.words)))
