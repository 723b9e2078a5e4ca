"""What on file is about to run out."""

from datetime import date, timedelta

import pytest

from gradebook.records.expiry import Expiring, expiring
from gradebook.records.values import FiledEvent
from syllabus.reading import load_course
from tests.small_course import FILES

TODAY = date(2026, 5, 20)
COURSE = load_course(FILES)
MEDICAL = "Medical certificate seen"


def filed(days: int | None, *, passed: bool = True, code: str = "medical") -> FiledEvent:
    """Something on file that runs out so many days from today, or never."""
    ends = None if days is None else TODAY + timedelta(days=days)
    on = TODAY - timedelta(days=300)
    return FiledEvent("1", code, "medical", on, ends, passed, "", "ben")


@pytest.mark.parametrize(("days", "told"), [(30, 1), (31, 0), (0, 1), (-14, 1), (-15, 0)])
def test_it_is_told_from_thirty_days_before_to_fourteen_after(days, told):
    assert len(expiring(COURSE, [filed(days)], TODAY)) == told


def test_it_says_what_and_until_when():
    assert expiring(COURSE, [filed(3)], TODAY) == (Expiring(MEDICAL, date(2026, 5, 23)),)


def test_something_newer_that_holds_longer_silences_it():
    assert expiring(COURSE, [filed(3), filed(300)], TODAY) == ()
    assert expiring(COURSE, [filed(None), filed(3)], TODAY) == ()


def test_what_was_not_passed_holds_nothing():
    assert len(expiring(COURSE, [filed(3), filed(300, passed=False)], TODAY)) == 1


def test_the_last_day_still_counts():
    (last,) = expiring(COURSE, [filed(0)], TODAY)
    assert not last.is_over(TODAY)
    assert last.is_over(TODAY + timedelta(days=1))
