"""Whether an instructor's certificate lets them instruct on a day. Pure.

Rules differ: some certificates run out on a day. A United States flight instructor certificate
issued since 1 December 2024 names no day (Federal Register 2024-22018), but its privileges may
be used only within 24 calendar months of recent experience (14 CFR 61.197(a)); what is entered
then is the last day of those months. What counts is the day flown: whoever was entitled then
also signs for it later, as 14 CFR 61.189 wants.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from gradebook.records.faults import Problem
from gradebook.records.permissions import Role
from syllabus.saying import dated, say

SIGNING = frozenset({Role.INSTRUCTOR, Role.CHECK_INSTRUCTOR, Role.CHIEF})
"""Roles that sign records, and so need a certificate."""
AHEAD = timedelta(days=60)
"""Told so long before the last day."""


class Term(StrEnum):
    """How long a certificate holds: unknown, to a day, by recent experience, without end."""

    UNSTATED = ""
    EXPIRES = "expires"
    EXPERIENCE = "recent-experience"
    ENDLESS = "endless"


WITH_A_DAY = frozenset({Term.EXPIRES, Term.EXPERIENCE})
TERMS = {
    Term.UNSTATED: say("not entered yet"),
    Term.EXPIRES: say("expires on this day"),
    Term.EXPERIENCE: say("recent experience ends on this day"),
    Term.ENDLESS: say("does not expire"),
}


@dataclass(frozen=True, slots=True)
class Certificate:
    """The number (may be empty), how long it holds, and the last day where there is one."""

    number: str
    term: Term = Term.UNSTATED
    until: date | None = None

    def holds(self, on: date) -> bool:
        """Whether it lets its holder instruct on this day, as far as was entered."""
        return self.until is None or on <= self.until

    def ends_soon(self, today: date) -> bool:
        """Whether its last day is near, or past."""
        return self.until is not None and self.until <= today + AHEAD

    def why_not(self, on: date) -> str:
        """Why it does not hold on this day, the rule named; empty when it does."""
        if self.until is None or self.holds(on):
            return ""
        days = {"on": dated(on), "until": dated(self.until)}
        if self.term is Term.EXPERIENCE:
            return say(
                "14 CFR 61.197: recent experience ended on {until}; nobody may be instructed "
                "under this certificate on {on}. An administrator enters newer experience "
                "under People.",
                **days,
            )
        return say(
            "The instructor certificate expired on {until} and does not hold on {on}. "
            "An administrator enters a renewal under People.",
            **days,
        )


def problems(held: Certificate, wanted: Iterable[Role]) -> list[Problem]:
    """What is wrong with a certificate as typed, for somebody who shall hold these roles."""
    found = []
    if not held.number.strip() and SIGNING.intersection(wanted):
        words = say("Enter the number of the instructor certificate: this role signs records.")
        found.append(Problem("certificate", words))
    if held.term in WITH_A_DAY and held.until is None:
        found.append(Problem("certificate_until", say("Enter the day.")))
    if held.until is not None and held.term not in WITH_A_DAY:
        words = say("Choose what this day is, or leave the day empty.")
        found.append(Problem("certificate_term", words))
    return found
