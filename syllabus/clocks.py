"""Date rules: how long an endorsement, a test, a medical or a record lasts, with citations.

Conventions: *n days* last through the start day plus n; *n calendar months* last through the
last day of the n-th month after the start month; *n years* last through the same day n years
on, and a day that does not exist rolls to the later one. Every rule is data for the school's
chief to confirm: those cited '(from memory)' were not read in the current rule text.
"""

from calendar import monthrange
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum


class Span(StrEnum):
    """What a clock counts."""

    DAYS = "days"
    MONTHS = "calendar months"
    YEARS = "years"


@dataclass(frozen=True, slots=True)
class Clock:
    """One rule that lets something last `amount` of `span` from its start day."""

    words: str
    amount: int
    span: Span
    citation: str

    def last_day(self, start: date) -> date:
        """The last day on which the thing started on `start` still counts."""
        if self.span is Span.DAYS:
            return start + timedelta(days=self.amount)
        if self.span is Span.MONTHS:
            return end_of_month(start, self.amount)
        return years_after(start, self.amount)

    def covers(self, start: date, on: date) -> bool:
        """Whether `on` lies between the start day and the last day, both included."""
        return start <= on <= self.last_day(start)


SOLO = Clock("Solo endorsement", 90, Span.DAYS, "14 CFR 61.87(n)")
NIGHT_SOLO = Clock("Night solo endorsement", 90, Span.DAYS, "14 CFR 61.87(o)")
PREPARATION = Clock("Test preparation", 2, Span.MONTHS, "14 CFR 61.39(a)(6)(i)")
PREPARATION_141 = Clock(
    "Test preparation, approved course", 60, Span.DAYS, "14 CFR 141 App. B (from memory)"
)
KNOWLEDGE_TEST = Clock("Knowledge test", 24, Span.MONTHS, "14 CFR 61.39(a)(1)(i)")
TEST_CREDIT = Clock("Credit for tasks passed", 60, Span.DAYS, "14 CFR 61.43(f)")
TEST_INCREMENTS = Clock("All parts of the practical test", 2, Span.MONTHS, "14 CFR 61.39(f)")
GRADUATE_TEST = Clock(
    "Practical test after graduation", 60, Span.DAYS, "14 CFR 61.71(a) (from memory)"
)
RECENCY = Clock("Three takeoffs and landings", 90, Span.DAYS, "14 CFR 61.57(a)")
NIGHT_RECENCY = Clock(
    "Three night takeoffs and full-stop landings", 90, Span.DAYS, "14 CFR 61.57(b)"
)
FLIGHT_REVIEW = Clock("Flight review", 24, Span.MONTHS, "14 CFR 61.56(c)")
INSTRUCTOR_CHECK = Clock("Instructor check", 12, Span.MONTHS, "14 CFR 141.79(d)(2)")
MEDICAL_UNDER_40 = Clock(
    "Third-class medical, under 40", 60, Span.MONTHS, "14 CFR 61.23(d) (from memory)"
)
MEDICAL_FROM_40 = Clock(
    "Third-class medical, 40 or over", 24, Span.MONTHS, "14 CFR 61.23(d) (from memory)"
)
KEEP_RECORD = Clock("Training record", 1, Span.YEARS, "14 CFR 141.101(d)")
KEEP_INSTRUCTOR_LIST = Clock("Instructor's endorsement list", 3, Span.YEARS, "14 CFR 61.189(c)")
KEEP_RECORD_EASA = Clock("Training record, EASA", 3, Span.YEARS, "ORA.ATO.120")


def end_of_month(day: date, months: int) -> date:
    """Last day of the month that lies `months` after the month of `day` (negative: before)."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, monthrange(year, month + 1)[1])


def start_of_month(day: date, months: int) -> date:
    """First day of the month that lies `months` after the month of `day` (negative: before)."""
    return end_of_month(day, months).replace(day=1)


def years_after(day: date, years: int) -> date:
    """The same day `years` on; 29 February becomes 1 March where there is none."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)


def age_on(born_on: date, day: date) -> int:
    """Full years of age on a day."""
    had_birthday = years_after(born_on, day.year - born_on.year) <= day
    return day.year - born_on.year - (not had_birthday)


def solo_until(endorsed_on: date, trained_on: date | None = None) -> date:
    """Last day of solo flight: 90 days from the earlier of endorsement and training.

    14 CFR 61.87(n) ties the days to the training; practice counts from the endorsement.
    """
    return SOLO.last_day(min(endorsed_on, trained_on or endorsed_on))


def may_fly_solo(endorsed_on: date, endorsed_model: str, on: date, model: str) -> bool:
    """Whether an endorsement covers a solo flight: its own make and model, in 90 days."""
    return endorsed_model == model and SOLO.covers(endorsed_on, on)


def preparation_window(applied_on: date, *, this_month: bool = True) -> tuple[date, date]:
    """First and last day on which test preparation counts for an application on `applied_on`.

    14 CFR 61.39(a)(6)(i) says the two calendar months *preceding* the month of application;
    practice accepts the days of that month too. `this_month=False` leaves them out.
    """
    first = start_of_month(applied_on, -PREPARATION.amount)
    return first, applied_on if this_month else end_of_month(applied_on, -1)


def discontinued_until(began_on: date, discontinued_on: date) -> date:
    """Last day on which the tasks passed before a discontinued test are still credited.

    The earlier of 60 days after it was discontinued (14 CFR 61.43(f)) and the end of the second
    month after the month it began (14 CFR 61.39(f)).
    """
    return min(TEST_CREDIT.last_day(discontinued_on), TEST_INCREMENTS.last_day(began_on))


def medical_until(examined_on: date, born_on: date) -> date:
    """Last day of a third-class medical, by the age on the day of the examination."""
    young = age_on(born_on, examined_on) < 40
    return (MEDICAL_UNDER_40 if young else MEDICAL_FROM_40).last_day(examined_on)


def needs_flight_review(
    on: date, reviewed_on: date | None, student_solo_until: date | None = None
) -> bool:
    """Whether a flight review is wanting on a day.

    A student with a live solo endorsement needs none (14 CFR 61.56(g)); a passed practical test
    stands for a review (61.56(d)): give its day as `reviewed_on`.
    """
    if student_solo_until is not None and on <= student_solo_until:
        return False
    return reviewed_on is None or not FLIGHT_REVIEW.covers(reviewed_on, on)


def may_purge(clock: Clock, start: date, on: date) -> bool:
    """Whether a record kept from `start` may be destroyed: only after its last day."""
    return on > clock.last_day(start)


@dataclass(frozen=True, slots=True)
class Landings:
    """Takeoffs and landings of one day in one category and class (and type, where required)."""

    on: date
    category: str
    takeoffs: int
    landings: int
    night: bool = False
    full_stop: bool = False


def passengers_until(
    flown: Iterable[Landings], category: str, *, night: bool = False
) -> date | None:
    """Last day on which passengers may be carried, or None without three of each.

    By day three takeoffs and landings in the category (14 CFR 61.57(a)); at night three of each
    at night and to a full stop (61.57(b)). Day recency of tail-wheel airplanes is not modelled.
    """
    clock = NIGHT_RECENCY if night else RECENCY
    kept = [
        one for one in flown
        if one.category == category and (not night or (one.night and one.full_stop))
    ]  # fmt: skip
    takeoff = _third_last(day for one in kept for day in [one.on] * one.takeoffs)
    landing = _third_last(day for one in kept for day in [one.on] * one.landings)
    if takeoff is None or landing is None:
        return None
    return clock.last_day(min(takeoff, landing))


def _third_last(days: Iterator[date]) -> date | None:
    latest = sorted(days)[-3:]
    return latest[0] if len(latest) == 3 else None
