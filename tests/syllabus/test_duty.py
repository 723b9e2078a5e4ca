"""The 8-hour rule, 14 CFR 61.195(a): rows 31-33 of standards.md section 9."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syllabus.duty import Block, duty_verdict

DAY_ONE = datetime(2026, 4, 1, tzinfo=UTC)


def block(start: float, end: float) -> Block:
    """Hours after midnight of day one."""
    return Block(DAY_ONE + timedelta(hours=start), DAY_ONE + timedelta(hours=end))


def test_three_blocks_of_one_day_can_be_too_much() -> None:  # row 31
    verdict = duty_verdict([block(8, 11), block(13, 16), block(17, 19.5)])
    assert (verdict.minutes, verdict.within) == (510, False)
    assert verdict.words == "8 h 30 min of flight training in 24 hours: over the 8 h allowed."


def test_an_evening_and_the_next_morning_count_together() -> None:  # row 32
    verdict = duty_verdict([block(16, 22), block(32, 34.5)])
    assert (verdict.minutes, verdict.within) == (510, False)
    assert verdict.starts_at is not None
    assert verdict.starts_at <= DAY_ONE + timedelta(hours=16)


def test_yesterdays_block_rolls_off_as_todays_accrues() -> None:  # row 33
    verdict = duty_verdict([block(16, 22), block(40, 46)])
    assert (verdict.minutes, verdict.within) == (360, True)


def test_eight_hours_exactly_are_allowed_and_a_second_more_is_not() -> None:
    assert duty_verdict([block(8, 16)]).within
    assert not duty_verdict([block(8, 16 + 1 / 3600)]).within


def test_two_students_at_once_count_once() -> None:
    assert duty_verdict([block(8, 12), block(10, 13)]).minutes == 300


def test_no_training_is_within_the_limit() -> None:
    assert duty_verdict([]).within


def test_a_change_of_zone_does_not_hide_an_hour() -> None:
    summer, winter = timezone(timedelta(hours=-7)), timezone(timedelta(hours=-8))
    across = Block(
        datetime(2026, 11, 1, 1, tzinfo=summer), datetime(2026, 11, 1, 2, tzinfo=winter)
    )
    assert duty_verdict([across]).minutes == 120


@pytest.mark.parametrize(("start", "end"), [(5, 4), (30, 2)])
def test_a_block_cannot_end_before_it_starts(start: int, end: int) -> None:
    with pytest.raises(ValueError, match="before it starts"):
        block(start, end)


def test_a_moment_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="time zone"):
        Block(datetime(2026, 4, 1, 8), datetime(2026, 4, 1, 9))  # noqa: DTZ001 - the fault under test


BLOCKS = st.lists(
    st.tuples(st.integers(0, 72 * 60), st.integers(0, 300)).map(
        lambda pair: block(pair[0] / 60, (pair[0] + pair[1]) / 60)
    ),
    max_size=6,
)


@given(BLOCKS)
def test_the_maximum_is_that_of_a_minute_by_minute_count(blocks: list[Block]) -> None:
    minutes = [0] * (100 * 60)
    for one in blocks:
        first = round((one.starts_at - DAY_ONE) / timedelta(minutes=1))
        last = round((one.ends_at - DAY_ONE) / timedelta(minutes=1))
        minutes[first:last] = [1] * (last - first)
    running = sum(minutes[:1440])
    most = running
    for start in range(len(minutes) - 1440):
        running += minutes[start + 1440] - minutes[start]
        most = max(most, running)
    assert duty_verdict(blocks).minutes == most


def test_a_block_needs_both_its_moments_in_a_zone() -> None:
    with pytest.raises(ValueError, match="time zone"):
        Block(DAY_ONE, datetime(2026, 4, 1, 9))  # noqa: DTZ001 - the fault under test
