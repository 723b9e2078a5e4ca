"""Date rules against the cases of standards.md section 9; row numbers stand beside each."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syllabus import clocks
from syllabus.clocks import Landings

DAYS = st.dates(date(1990, 1, 1), date(2090, 1, 1))


def day(text: str) -> date:
    return date.fromisoformat(text)


@pytest.mark.parametrize(
    ("clock", "start", "last"),
    [
        (clocks.SOLO, "2026-01-15", "2026-04-15"),  # rows 1, 2: 61.87(n)
        (clocks.SOLO, "2024-01-01", "2024-03-31"),  # row 3, leap year: 61.87(n)
        (clocks.PREPARATION, "2026-01-15", "2026-03-31"),  # rows 5, 6: 61.39(a)(6)(i)
        (clocks.PREPARATION, "2026-01-31", "2026-03-31"),  # row 7: 61.39
        (clocks.PREPARATION, "2025-12-01", "2026-02-28"),  # row 8: 61.39
        (clocks.PREPARATION_141, "2026-04-16", "2026-06-15"),  # row 9: App. B, from memory
        (clocks.KNOWLEDGE_TEST, "2024-03-10", "2026-03-31"),  # row 10: 61.39(a)(1)(i)
        (clocks.FLIGHT_REVIEW, "2024-06-10", "2026-06-30"),  # row 11: 61.56(c)
        (clocks.RECENCY, "2026-03-01", "2026-05-30"),  # row 13: 61.57(a)
        (clocks.KEEP_RECORD, "2026-05-20", "2027-05-20"),  # row 16: 141.101(d)
        (clocks.KEEP_INSTRUCTOR_LIST, "2026-01-15", "2029-01-15"),  # row 17: 61.189(c)
        (clocks.KEEP_RECORD_EASA, "2026-05-20", "2029-05-20"),  # row 18: ORA.ATO.120
        (clocks.KEEP_RECORD, "2024-02-29", "2025-03-01"),  # row 19: 141.101(d), policy
        (clocks.INSTRUCTOR_CHECK, "2025-06-12", "2026-06-30"),  # row 34: 141.79(d)(2)
        (clocks.GRADUATE_TEST, "2026-05-20", "2026-07-19"),  # row 37: 61.71(a), from memory
    ],
)
def test_a_clock_runs_out_on_its_last_day(clock: clocks.Clock, start: str, last: str) -> None:
    assert clock.last_day(day(start)) == day(last)


def test_a_solo_endorsement_covers_day_90_and_not_day_91() -> None:  # rows 1, 2: 61.87(n)
    assert clocks.may_fly_solo(day("2026-01-15"), "tystie", day("2026-04-15"), "tystie")
    assert not clocks.may_fly_solo(day("2026-01-15"), "tystie", day("2026-04-16"), "tystie")


def test_a_solo_endorsement_does_not_cover_another_model() -> None:  # row 4: 61.87(n)
    assert not clocks.may_fly_solo(day("2026-01-15"), "tystie", day("2026-02-01"), "dunlin")


def test_solo_days_count_from_the_training_when_that_was_earlier() -> None:  # section 2, note 3
    assert clocks.solo_until(day("2026-01-15"), trained_on=day("2026-01-10")) == day(
        "2026-04-10"
    )
    assert clocks.solo_until(day("2026-01-15")) == day("2026-04-15")


@pytest.mark.parametrize(
    ("trained", "applied", "counts"),
    [
        ("2026-01-15", "2026-03-31", True),  # row 5
        ("2026-01-15", "2026-04-01", False),  # row 6
        ("2026-01-31", "2026-04-01", False),  # row 7
        ("2025-12-01", "2026-02-28", True),  # row 8
        ("2025-12-01", "2026-03-01", False),  # row 8, a day later
    ],
)
def test_preparation_counts_in_two_calendar_months(
    trained: str, applied: str, *, counts: bool
) -> None:
    first, last = clocks.preparation_window(day(applied))
    assert (first <= day(trained) <= last) is counts


def test_preparation_in_the_month_of_application_is_a_setting() -> None:  # section 10
    applied = day("2026-03-20")
    assert clocks.preparation_window(applied) == (day("2026-01-01"), applied)
    strict = clocks.preparation_window(applied, this_month=False)
    assert strict == (day("2026-01-01"), day("2026-02-28"))


@given(DAYS, DAYS)
def test_the_preparation_clock_and_window_agree(trained: date, applied: date) -> None:
    first, last = clocks.preparation_window(applied)
    assert clocks.PREPARATION.covers(trained, applied) is (first <= trained <= last)


def test_preparation_for_an_approved_course_counts_60_days() -> None:  # row 9, from memory
    test_on = day("2026-06-15")
    assert clocks.PREPARATION_141.covers(day("2026-04-16"), test_on)
    assert not clocks.PREPARATION_141.covers(day("2026-04-15"), test_on)


def test_a_student_with_a_live_solo_endorsement_needs_no_review() -> None:  # row 12: 61.56(g)
    on, solo_until = day("2026-04-01"), day("2026-04-15")
    assert not clocks.needs_flight_review(on, None, solo_until)
    assert not clocks.needs_flight_review(solo_until, None, solo_until)
    assert clocks.needs_flight_review(day("2026-04-16"), None, solo_until)


def test_a_flight_review_runs_to_the_end_of_its_month() -> None:  # row 11: 61.56(c)
    assert not clocks.needs_flight_review(day("2026-06-30"), day("2024-06-10"))
    assert clocks.needs_flight_review(day("2026-07-01"), day("2024-06-10"))


def test_three_landings_carry_passengers_for_90_days() -> None:  # row 13: 61.57(a)
    flown = [Landings(day("2026-03-01"), "RH", 1, 1), Landings(day("2026-03-05"), "RH", 2, 2)]
    assert clocks.passengers_until(flown, "RH") == day("2026-05-30")


def test_two_landings_do_not_carry_passengers() -> None:  # 61.57(a)
    assert clocks.passengers_until([Landings(day("2026-03-01"), "RH", 3, 2)], "RH") is None


def test_touch_and_goes_do_not_count_at_night() -> None:  # row 14: 61.57(b)
    touch_and_goes = Landings(day("2026-03-01"), "ASEL", 3, 3, night=True)
    stops = Landings(day("2026-03-01"), "ASEL", 3, 3, night=True, full_stop=True)
    assert clocks.passengers_until([touch_and_goes], "ASEL", night=True) is None
    assert clocks.passengers_until([touch_and_goes], "ASEL") == day("2026-05-30")
    assert clocks.passengers_until([stops], "ASEL", night=True) == day("2026-05-30")


def test_landings_in_an_airplane_do_not_count_in_a_helicopter() -> None:  # row 15: 61.57(a)
    assert clocks.passengers_until([Landings(day("2026-03-01"), "ASEL", 3, 3)], "RH") is None


def test_a_record_may_not_be_purged_on_its_last_day() -> None:  # row 16: 141.101(d)
    graduated = day("2026-05-20")
    assert not clocks.may_purge(clocks.KEEP_RECORD, graduated, day("2027-05-20"))
    assert clocks.may_purge(clocks.KEEP_RECORD, graduated, day("2027-05-21"))


@pytest.mark.parametrize(
    ("discontinued", "sixty_days", "outer", "until"),
    [
        ("2026-04-01", "2026-05-31", "2026-06-30", "2026-05-31"),  # row 35: 61.43(f), 61.39(f)
        ("2026-01-31", "2026-04-01", "2026-03-31", "2026-03-31"),  # row 36
    ],
)
def test_credit_for_a_discontinued_test_ends_at_the_earlier_limit(
    discontinued: str, sixty_days: str, outer: str, until: str
) -> None:
    began = day(discontinued)
    assert clocks.TEST_CREDIT.last_day(began) == day(sixty_days)
    assert clocks.TEST_INCREMENTS.last_day(began) == day(outer)
    assert clocks.discontinued_until(began, began) == day(until)


@pytest.mark.parametrize(
    ("examined", "born", "until"),
    [
        ("2023-08-15", "1988-03-02", "2028-08-31"),  # row 50, age 35: 61.23(d), from memory
        ("2024-08-15", "1983-03-02", "2026-08-31"),  # row 50, age 41: 61.23(d), from memory
        ("2024-08-15", "1984-08-16", "2029-08-31"),  # the day before turning 40
        ("2024-08-15", "1984-08-15", "2026-08-31"),  # on the fortieth birthday
    ],
)
def test_a_medical_lasts_by_the_age_at_the_examination(
    examined: str, born: str, until: str
) -> None:
    assert clocks.medical_until(day(examined), day(born)) == day(until)


def test_someone_born_on_29_february_turns_a_year_older_on_1_march() -> None:
    assert clocks.age_on(day("2004-02-29"), day("2026-02-28")) == 21
    assert clocks.age_on(day("2004-02-29"), day("2026-03-01")) == 22


@given(DAYS, st.integers(0, 60))
def test_the_end_of_a_month_is_followed_by_the_start_of_the_next(start: date, n: int) -> None:
    gap = clocks.start_of_month(start, n + 1) - clocks.end_of_month(start, n)
    assert gap.days == 1
