"""A record lives as it should whoever does what, and the machine that says so can see."""

import pytest

from tests.faults.hunting import hunt, live
from tests.faults.planted import PLANTED

LIVES, SEARCH = 30, 480


def test_a_record_lives_as_it_should() -> None:
    done = live(LIVES)
    assert done.fault == ""
    assert done.acts >= LIVES * 10


@pytest.mark.parametrize("bug", PLANTED)
def test_a_planted_bug_is_found(bug: str) -> None:
    assert hunt(bug, SEARCH).fault
