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
    assert seen.memory[-1] > 0 < seen.anew


@pytest.mark.parametrize(
    ("seen", "fault"),
    [
        (Soaked(answers=Counter({"200": 9, "500": 1})), "1 x 500"),
        (Soaked(answers=Counter({"None": 2})), "2 x None"),
        (Soaked(commands=Counter({"verify 0": 3, "verify 2": 1})), "1 x verify 2"),
        (Soaked(memory=[50, 121], anew=100), "21% more memory than new processes need"),
        (Soaked(log=MOST_LOG), "the write-ahead log reached 64 MiB"),
    ],
)
def test_a_soak_tells_each_fault(seen: Soaked, fault: str) -> None:
    assert seen.faults == [fault]


def test_a_growing_school_is_no_fault() -> None:
    answers = Counter({"200": 4, "303": 2})
    assert Soaked(memory=[10, 50, 119], anew=100, answers=answers).faults == []
