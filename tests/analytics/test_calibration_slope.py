"""How sharp chances are said: the calibration slope, and that every chance is said alike."""

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr, ndtri
from statsmodels.discrete.discrete_model import Probit

from gradebook.analytics.forecast import forecast
from gradebook.analytics.metrics import log_loss
from gradebook.analytics.needle.foretold import SLOPE_DOUBT, calibration_slope, chances
from gradebook.analytics.needle.outlook import outlooks, skill
from gradebook.analytics.needle.parameters import parameters_from
from gradebook.analytics.needle.prospect import GREEN_FROM, prospects
from gradebook.analytics.needle.replay import Replay, replay
from gradebook.analytics.readiness import check_chance
from gradebook.analytics.worlds.flights import Size
from gradebook.analytics.worlds.simulation import simulate
from tests.analytics.needle_school import after, defaults, log_of, one_task, random_rows, still

ONE = still([0.0])
"""A scale of two levels, one learning speed, a grader known to be neutral."""
SEVERAL = 40


def foretold(sharper, n, seed=1):
    """A replay whose chances are this much blunter than what then happened, and its grades."""
    random = np.random.default_rng(seed)
    mean = random.normal(0, 1, n)
    met = random.standard_normal(n) < sharper * mean
    log = log_of([("s0", "hover", "Ben", at, float(at), 1 + int(met[at])) for at in range(n)])
    none = np.zeros((1, n))
    return Replay(log, mean[None], none, none + 1, none[0], {}), met


@pytest.mark.parametrize("sharper", [0.8, 1.0, 1.25])
def test_forecasts_too_blunt_or_too_sharp_are_found_out(sharper):
    done, _ = foretold(sharper, 60_000)
    assert calibration_slope(done, ONE) == pytest.approx(sharper, abs=0.03)


@pytest.mark.parametrize("n", [1, 60, 2_000])
def test_the_slope_is_that_of_a_probit_regression_with_a_prior(n):
    """The reference is statsmodels; Cox (1958) for the slope."""
    done, met = foretold(1.3, n)
    slope = calibration_slope(done, ONE)
    score = Probit(met.astype(float), done.mean.T).score(np.array([slope]))[0]
    assert slope * score == pytest.approx(np.log(slope) / SLOPE_DOUBT**2, abs=0.05)


def test_few_grades_move_it_little_and_none_not_at_all():
    assert calibration_slope(replay(log_of([]), ONE), ONE) == 1
    assert 1 < calibration_slope(foretold(1.5, SEVERAL)[0], ONE) < 1 + 2 * SLOPE_DOUBT


def test_a_speed_that_cannot_be_any_more_is_left_out():
    done, _ = foretold(1.3, 500)
    none = np.zeros_like(done.weight)
    doubled = replace(
        done,
        mean=np.vstack([done.mean, done.mean + 3]),
        variance=np.vstack([done.variance, done.variance]),
        weight=np.vstack([done.weight, none]),
    )
    assert calibration_slope(doubled, ONE) == calibration_slope(done, ONE)


def test_schools_that_learn_in_jumps_are_foretold_better_with_their_slope():
    as_said, as_blunt = [], []
    for seed in range(6):
        world = simulate("B", Size(students=30, tasks=15, instructors=4, lessons=20), seed)
        train = world.flights.student < 20
        said = forecast(world.grades, world.levels, world.standard, train)
        assert said.parameters.slope > 1
        chance, met = said.frame["p_meets_standard"].to_numpy()[~train], world.meets[~train]
        as_said.append(log_loss(met, chance))
        as_blunt.append(log_loss(met, ndtr(ndtri(chance) / said.parameters.slope)))
    assert np.mean(as_said) < np.mean(as_blunt)


@pytest.mark.parametrize("slope", [0.8, 1.3])
def test_needle_forecast_and_check_say_the_same_chance(slope):
    rows = random_rows(4, students=1, lessons=9)
    sharp = replace(defaults(), slope=slope)
    task, day = rows[-1][1], 160
    known = skill(after(rows, sharp), sharp, [task], day)
    needle = outlooks(known, sharp)[task]
    check = check_chance(known, sharp)
    assert check.chance == pytest.approx(needle.chance, abs=1e-5)
    assert (check.low, check.high) == pytest.approx((needle.low, needle.high), abs=0.08)
    done = replay(log_of([*rows, ("s0", task, "Ben", 99, float(day), 3)]), sharp)
    none = np.zeros(len(done.log))
    last = [one[-1] for one in chances(done, none, none, sharp)]
    assert last == pytest.approx([needle.chance, needle.low, needle.high], abs=1e-9)


def test_sharper_chances_lie_further_from_a_half_and_their_interval_goes_along():
    rows = one_task(4, 4, 4, 4)
    blunt, sharp = (one_needle(rows, slope) for slope in (1.0, 1.3))
    assert 0.5 < blunt.chance < sharp.chance
    assert blunt.low < sharp.low
    assert blunt.high < sharp.high


def one_needle(rows, slope):
    """The needle of the one task of these rows."""
    sharp = replace(defaults(), slope=slope)
    return outlooks(skill(after(rows, sharp), sharp, ["hover"], 4), sharp)["hover"]


@pytest.mark.parametrize("slope", [0.9, 1.0, 1.2])
def test_whoever_is_proficient_on_the_needle_needs_no_more_attempts(slope):
    """The median future, where nothing is uncertain about the skill."""
    sharp = replace(ONE, slope=slope)
    just = float(ndtri(GREEN_FROM)) / slope
    for start, none_needed in ((just + 0.01, True), (just - 0.01, False)):
        here = replace(sharp, typical=replace(sharp.typical, start=start))
        known = skill(None, here, ["hover"], 0)
        known = replace(known, residual=known.residual * 0, doubt=known.doubt * 0)
        assert (outlooks(known, sharp)["hover"].chance >= GREEN_FROM) == none_needed
        assert (prospects(known, sharp, 7.0)["hover"].median == 0) == none_needed


def test_a_fit_from_before_slopes_reads_as_it_was():
    sharp = replace(ONE, slope=1.2)
    assert parameters_from(sharp.as_text()) == sharp
    earlier = json.loads(sharp.as_text())
    del earlier["slope"]
    assert parameters_from(json.dumps(earlier)) == ONE
