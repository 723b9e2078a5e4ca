"""No chance lies outside its own interval, however extreme the skill."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from gradebook.analytics.needle.outlook import Skill, chance_and_interval, outlooks, skill
from gradebook.analytics.needle.prospect import prospects
from gradebook.analytics.readiness import Calibration, check_chance
from tests.analytics.needle_school import after, defaults, one_task

KNOWN = defaults()
FAR = st.floats(-60, 60)
DOUBT = st.floats(1e-9, 60)
TASKS = 3


def row(values: st.SearchStrategy[float], size: int) -> st.SearchStrategy[list[float]]:
    return st.lists(values, min_size=size, max_size=size)


@st.composite
def skills(draw) -> Skill:
    """Any beliefs about three tasks at five learning speeds."""
    speeds = KNOWN.nodes
    weight = np.array(draw(row(st.floats(1e-6, 1), speeds)))
    return Skill(
        tuple(f"task-{at}" for at in range(TASKS)),
        offset=np.array(draw(row(row(FAR, TASKS), speeds))),
        loading=np.array(draw(row(row(st.floats(-3, 3), TASKS), speeds))),
        residual=np.array(draw(row(row(DOUBT, TASKS), speeds))),
        path=np.zeros((speeds, TASKS)),
        lean=np.ones((speeds, TASKS)),
        ability=np.array(draw(row(st.floats(-6, 6), speeds))),
        doubt=np.array(draw(row(st.floats(1e-9, 6), speeds))),
        weight=weight / weight.sum(),
        attempts=np.full(TASKS, 4.0),
        idle=np.zeros(TASKS),
        retention=np.ones(TASKS),
    )


@given(st.lists(st.tuples(st.floats(1e-6, 1), FAR, DOUBT), min_size=1, max_size=5), DOUBT)
def test_a_chance_lies_in_its_interval_whatever_is_believed(nodes, day):
    weight, mean, variance = (np.array(one)[:, None] for one in zip(*nodes, strict=True))
    chance, low, high = chance_and_interval(
        weight / weight.sum(), mean, variance, defaults(day=day)
    )
    assert 0 <= low[0] <= chance[0] <= high[0] <= 1


@settings(max_examples=60)
@given(skills())
def test_so_do_the_outlook_of_a_task_and_the_chance_of_a_check(known):
    for one in outlooks(known, KNOWN).values():
        assert 0 <= one.low <= one.chance <= one.high <= 1
    check = check_chance(known, KNOWN)
    assert 0 <= check.low <= check.chance <= check.high <= 1


@settings(max_examples=15)
@given(skills())
def test_the_middle_number_of_attempts_lies_between_the_ends(known):
    for one in prospects(known, KNOWN, 7.0).values():
        low, median, high = (99 if n is None else n for n in (one.low, one.median, one.high))
        assert 0 <= low <= median <= high


def test_a_hopeless_skill_is_reached_by_its_interval():
    # a mean of -6 known to 2.5: the ninth tenth is P(Z < -2.8), the mean P(Z < -6/2.69)
    weight, mean, variance = np.ones((1, 1)), np.full((1, 1), -6.0), np.full((1, 1), 2.5**2)
    chance, low, high = chance_and_interval(weight, mean, variance, defaults(day=0.0))
    assert chance[0] == pytest.approx(norm.cdf(-6 / np.sqrt(1 + 2.5**2)))
    assert norm.cdf(-6 + 1.2816 * 2.5) < chance[0]  # the ninth tenth itself falls short
    assert (low[0], high[0]) == (pytest.approx(norm.cdf(-6 - 1.2816 * 2.5)), chance[0])


@given(st.floats(-2, 2), st.floats(-0.5, 2), st.floats(-1, 1))
def test_calibration_moves_the_interval_with_the_chance(shift, slope, better):
    believed = after(one_task(3, 3, 2), KNOWN)
    known = skill(believed, KNOWN, ["hover"], 9)
    plain = check_chance(replace(known, offset=known.offset + better), KNOWN)
    told = Calibration(shift, slope, 60).of(plain)
    assert told.low <= told.chance <= told.high
    assert told.chance == Calibration(shift, slope, 60)(plain.chance)
    assert Calibration(shift, slope, 49).of(plain) == plain
