"""The steps of a skill: the same for one number and for a school, and right about the Nile."""

from dataclasses import replace

import numpy as np
import pytest
from statsmodels.datasets import nile
from statsmodels.tsa.statespace.structural import UnobservedComponents

from gradebook.analytics.needle.outlook import skill
from gradebook.analytics.needle.parameters import speed_nodes
from gradebook.analytics.needle.replay import advance
from gradebook.analytics.needle.sitting import ALONE, Shared, density, nothing, predicted, seen
from gradebook.analytics.needle.steps import (
    faded,
    gains,
    held,
    kept,
    practised,
    rested,
    toward,
    walked,
)
from gradebook.analytics.suggestion import practised as one_attempt_more
from tests.analytics.needle_school import after, defaults, log_of, one_task

FLOW = nile.load().data["volume"].to_numpy(float)
IRREGULAR, LEVEL = 15099.0, 1469.1
"""Variances of the local level model of the Nile at Aswan, 1871-1970: J. Durbin and S. J.
Koopman, Time Series Analysis by State Space Methods (2nd ed., 2012), 2.2.5 (from memory)."""
VAGUE = 1e6
STAY = np.zeros(1)
NO_DAY = np.zeros(1)


def followed(ability: float):
    """Filtered mean and variance, and the log density of each flow, as the filter takes them.

    The vague start is shared out between ability and the rest; a level that nothing teaches
    (gain 0) and that moves by `LEVEL` a year is a local level.
    """
    line = (np.zeros(1), np.ones(1), np.full(1, VAGUE - ability))
    known = Shared(np.full(1, 1 / ability), np.zeros(1), NO_DAY)
    found = []
    for year, flow in enumerate(FLOW):
        if year:
            line = practised(line, (STAY, STAY), (STAY, STAY), 1.0, LEVEL)
        one = np.full(1, flow), np.full(1, IRREGULAR)
        told = float(density(line, known, *one, ALONE)[0])
        line, known = seen(line, known, *one, ALONE)
        mean, variance = predicted(line, known, nothing(line))
        found.append((float(mean[0]), float(variance[0]), told))
    return np.array(found).T


@pytest.mark.parametrize("ability", [1e-6, 250_000.0, 999_999.0])
def test_practised_and_seen_follow_the_nile(ability):
    mean, variance, density = followed(ability)
    # filtered level in years 1, 2, 3 and 100: project notes, computed with statsmodels
    assert mean[[0, 1, 2, 99]] == pytest.approx([1103.34, 1132.79, 1067.998, 798.370], abs=5e-3)
    # steady variance of the filtered level (Durbin and Koopman, figure 2.1 (ii), from memory)
    assert variance[99] == pytest.approx(4032.16, abs=0.01)
    model = UnobservedComponents(FLOW, "local level")
    model.ssm.initialize_approximate_diffuse(VAGUE)
    done = model.smooth([IRREGULAR, LEVEL])
    assert mean == pytest.approx(done.filtered_state[0], abs=1e-4)
    assert variance == pytest.approx(done.filtered_state_cov[0, 0], abs=1e-3)
    assert density[1:].sum() == pytest.approx(done.llf_obs[1:].sum(), abs=1e-6)
    # log likelihood without the vague first year: -632.54 (the same book, 2.10.3, from memory)
    assert density[1:].sum() == pytest.approx(-632.54, abs=0.05)


def test_rest_that_forgets_nothing_is_a_random_walk_too():
    line = (np.array([0.4]), np.ones(1), np.array([0.3]))
    idle = rested(line, np.ones(1), np.array([-1.2]), 0.07)
    busy = practised(line, (STAY, STAY), (STAY, STAY), 1.0, 0.07)
    assert [one[0] for one in idle] == pytest.approx([one[0] for one in busy])


def test_a_number_and_a_school_take_the_same_step_to_the_last_bit():
    random = np.random.default_rng(4)
    shape = (5, 3, 40)
    line = tuple(random.normal(size=shape) ** power for power in (1, 1, 2))
    part, goal = random.uniform(size=shape), random.normal(size=shape[1:])
    keep, start = random.uniform(size=shape[1:]), random.normal(size=shape[1:])
    path = random.normal(size=shape), random.normal(size=shape)
    now = walked(path, part, goal, 0.5, 0.9)
    whole = rested(practised(line, path, now, 0.9, 0.06), keep, start, 0.01)
    after = faded(now, keep, start)
    for at in np.ndindex(shape):
        mine = tuple(each[at] for each in path)
        then = walked(mine, part[at], goal[at[1:]], 0.5, 0.9)
        one = practised(tuple(each[at] for each in line), mine, then, 0.9, 0.06)
        alone = rested(one, keep[at[1:]], start[at[1:]], 0.01)
        assert [each[at] for each in whole] == list(alone)
        assert [each[at] for each in after] == list(faded(then, keep[at[1:]], start[at[1:]]))
        assert toward(path[0][at], goal[at[1:]], part[at]) == then[0]
        assert held(line[0][at], mine[0], then[0], 0.9) == one[0]
        assert kept(one[0], start[at[1:]], keep[at[1:]]) == alone[0]


def test_the_part_an_attempt_goes_is_the_same_for_one_task_and_for_many_schools():
    rates = np.array([0.1, 0.23, 0.6])
    one = gains(rates, 0.4, 5)
    many = gains(np.array([rates, rates[::-1]]), np.array([[0.4], [0.7]]), 5)
    assert (many[:, 0] == one).all()
    assert one[2] == pytest.approx(rates)  # the middle speed
    assert one[0, 0] == 1 - 0.9 ** np.exp(0.4 * speed_nodes(5)[0][0])


def test_the_suggestion_takes_the_step_the_filter_takes():
    known = defaults()
    believed = after(one_task(3, 2), known)
    suggested = one_attempt_more(skill(believed, known, ["hover"], 1), known)
    # under these cuts every skill gets the highest grade: only the attempt is left of it
    deaf = replace(known, cuts={"grade": (-2000.0, -1000.0, -500.0)})
    row = ("s0", "hover", "Ben", 3, 1.0, 4)
    done = advance(log_of([row]), deaf, believed).beliefs["s0"]
    assert suggested.offset == pytest.approx(done.offset, abs=1e-6)
    assert suggested.loading == pytest.approx(done.loading, abs=1e-6)
    assert suggested.residual == pytest.approx(done.residual, abs=1e-6)
    assert suggested.path == pytest.approx(done.path, abs=1e-9)
    assert suggested.lean == pytest.approx(done.lean, abs=1e-9)
    assert suggested.attempts == done.attempts == 3
