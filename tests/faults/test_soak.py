"""Hours of work, for some seconds: and what a soak would have to tell of."""

from collections import Counter

import pytest

from tests.faults.soak import MOST_LOG, Soaked, soak


def test_people_work_while_the_school_is_backed_up_and_proved() -> None:
    seen, found = soak(0.05, "sqlite")
    assert seen.faults == []
    assert found.clean, found
    assert found.acknowledged > 0
    assert seen.answers["200"] > 0
    assert seen.commands["backup 0"] > 0


LEVEL = [100] * 40


@pytest.mark.parametrize(
    ("seen", "fault"),
    [
        (Soaked(answers=Counter({"200": 9, "500": 1})), "1 x 500"),
        (Soaked(answers=Counter({"None": 2})), "2 x None"),
        (Soaked(commands=Counter({"verify 0": 3, "verify 2": 1})), "1 x verify 2"),
        (Soaked(memory=[*LEVEL, *[106] * 20]), "memory grew by 6.0%"),
        (Soaked(log=MOST_LOG), "the write-ahead log reached 64 MiB"),
    ],
)
def test_a_soak_tells_each_fault(seen: Soaked, fault: str) -> None:
    assert seen.faults == [fault]


def test_what_is_met_for_the_first_time_is_no_growth() -> None:
    assert (
        Soaked(memory=[10, 50, 90, *LEVEL], answers=Counter({"200": 4, "303": 2})).faults == []
    )
