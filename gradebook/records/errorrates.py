"""How often an error is made when it could be: by one student, by a school, then and now."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from gradebook.analytics.intervals import wilson
from gradebook.records.carryover import CLOSING
from gradebook.records.values import History
from gradebook.records.watchitems import chances
from syllabus.clocks import end_of_month, start_of_month
from syllabus.errors import Severity


@dataclass(frozen=True, slots=True)
class Period:
    """From one day through another, both included."""

    first: date
    last: date

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last


@dataclass(frozen=True, slots=True)
class ErrorRate:
    """One error of one task: marks of opportunities (lessons) and how many students made it.

    `low` and `high` are the 95 % Wilson interval of the rate (0-1).
    """

    task: str
    error: str
    severity: Severity
    marks: int
    opportunities: int
    students: int
    low: float
    high: float

    @property
    def rate(self) -> float:
        """Marks per opportunity, 0-1; 0 without an opportunity."""
        return self.marks / self.opportunities if self.opportunities else 0.0


@dataclass(frozen=True, slots=True)
class ErrorChange:
    """One error in this period and in the one before."""

    now: ErrorRate
    before: ErrorRate

    @property
    def change(self) -> float:
        """Rate now less rate before; positive is worse."""
        return self.now.rate - self.before.rate

    @property
    def is_clear(self) -> bool:
        """Whether the two intervals lie apart, so that the change is more than chance."""
        return self.now.low > self.before.high or self.now.high < self.before.low


def month_of(day: date, months: int = 0) -> Period:
    """The calendar month `months` after that of the day (negative: before)."""
    return Period(start_of_month(day, months), end_of_month(day, months))


def error_rates(
    histories: Iterable[History], period: Period | None = None
) -> tuple[ErrorRate, ...]:
    """Every error marked in any of the histories, most often first, safety-critical on ties.

    An opportunity is a lesson in which the task was graded (counted) or marked with any error;
    one mark a lesson counts. Only lessons in the period, when one is given.
    """
    tally = _tally(histories, period)
    rates = (tally.rate(pair) for pair in tally.severity)
    return tuple(sorted(rates, key=lambda one: (-one.marks, one.severity.value, one.error)))


def compare_periods(
    histories: Sequence[History], now: Period, before: Period
) -> tuple[ErrorChange, ...]:
    """Errors marked in either period, those that grew most first."""
    tallies = _tally(histories, now), _tally(histories, before)
    severity = {**tallies[1].severity, **tallies[0].severity}
    for tally in tallies:
        tally.severity = severity
    changes = (ErrorChange(tallies[0].rate(pair), tallies[1].rate(pair)) for pair in severity)
    return tuple(sorted(changes, key=lambda one: (-one.change, one.now.error)))


@dataclass
class _Tally:
    """Counts while histories are read: opportunities by task, marks and students by error."""

    chances: dict[str, int]
    marks: dict[tuple[str, str], int]
    students: dict[tuple[str, str], set[int]]
    severity: dict[tuple[str, str], Severity]

    def rate(self, pair: tuple[str, str]) -> ErrorRate:
        """The rate of one (task, error)."""
        task, error = pair
        marks, chances = self.marks.get(pair, 0), self.chances.get(task, 0)
        students = len(self.students.get(pair, ()))
        low, high = wilson(marks, chances)
        return ErrorRate(
            task, error, self.severity[pair], marks, chances, students, low=low, high=high
        )


def _tally(histories: Iterable[History], period: Period | None) -> _Tally:
    tally = _Tally(defaultdict(int), defaultdict(int), defaultdict(set), {})
    for student, history in enumerate(histories):
        inside = tuple(one for one in history if period is None or one.flown_on in period)
        for task, lessons in chances(inside).items():
            tally.chances[task] += len(lessons)
            for error, severity in (mark for _, marked in lessons for mark in marked.items()):
                pair = (task, error)
                tally.marks[pair] += 1
                tally.students[pair].add(student)
                tally.severity[pair] = severity
    return tally


@dataclass(frozen=True, slots=True)
class Repeats:
    """How often a lesson was flown again: `again` of `attempts`, 95 % Wilson interval."""

    lesson: str
    again: int
    attempts: int
    low: float
    high: float


def repeats(histories: Iterable[History]) -> tuple[Repeats, ...]:
    """Lessons by the share of attempts that did not complete them, the highest first."""
    attempts: dict[str, int] = defaultdict(int)
    again: dict[str, int] = defaultdict(int)
    for fact in (fact for history in histories for fact in history):
        attempts[fact.lesson] += 1
        again[fact.lesson] += fact.outcome not in CLOSING
    found = []
    for lesson, n in attempts.items():
        low, high = wilson(again[lesson], n)
        found.append(Repeats(lesson, again[lesson], n, low=low, high=high))
    return tuple(sorted(found, key=lambda one: (-one.again / one.attempts, one.lesson)))
