"""How long a student's records are kept, and from when they may be erased. Pure.

The default, five years where nothing else is set, is that of the acceptable means of compliance
to ORA.GEN.220 (EU 965/2012 and 1178/2011; read as summarised). 14 CFR 141.101(d): at least one
year from graduation, termination or transfer. 14 CFR 61.189(c): an instructor keeps the list of
endorsements and tests at least three years; these records are that list too, so that no school
may choose less than three.
"""

from dataclasses import dataclass
from datetime import date

DEFAULT_YEARS, LEAST_YEARS, MOST_YEARS = 5, 3, 99
AFTER_THE_END, AFTER_AN_ENTRY = 1, LEAST_YEARS
"""Years that the law wants: 14 CFR 141.101(d) and 61.189(c)."""


def anniversary(day: date, years: int) -> date:
    """The same day so many years later; 29 February rolls to 1 March."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)


@dataclass(frozen=True, slots=True)
class Kept:
    """What is kept of one student: the day of the last entry, and of the last end.

    `running` says that an enrolment has not ended; `entries` counts entries of the ledger;
    `account` whether nothing but a student's account is theirs.
    """

    person_id: str
    name: str
    last: date
    ended: date | None
    running: bool
    entries: int
    account: bool

    def through(self, years: int) -> date:
        """The last day on which everything is kept, by the school's own years."""
        last = max(self.last, self.ended or self.last)
        return max(anniversary(last, years), self.lawful)

    @property
    def lawful(self) -> date:
        """The last day on which the law wants it kept, whatever the school says."""
        wanted = [anniversary(self.last, AFTER_AN_ENTRY)]
        if self.ended is not None:
            wanted.append(anniversary(self.ended, AFTER_THE_END))
        return max(wanted)

    def is_past(self, years: int, today: date) -> bool:
        """Whether retention has run: no enrolment goes on, and the last day is over."""
        return not self.running and today > self.through(years)


def fault_in(years: int) -> bool:
    """Whether a school may not keep records for so many years only."""
    return not LEAST_YEARS <= years <= MOST_YEARS
