"""The exact distribution of the run length, and the chances of streaks."""

from itertools import product

import numpy as np
import pytest

from gradebook.analytics.proof import proof_walk
from gradebook.analytics.runlengths import (
    UNIT,
    Walk,
    mean_run_length,
    run_lengths,
    signal_chance,
    streak_chance,
)


def test_rates_agree_with_writing_out_every_run_of_outcomes():
    walk, failure_rate, h, attempts = proof_walk(0.5, 0.2), 0.5, 1.4, 8
    reached = 0.0
    for outcomes in product([True, False], repeat=attempts):
        score, best = 0.0, 0.0
        for met in outcomes:
            score = max(0.0, score + (walk.up if met else -walk.down) / 1e9)
            best = max(best, score)
        reached += 0.5**attempts * (best >= h)
    assert signal_chance(walk, 1 - failure_rate, h, attempts) == pytest.approx(reached)


def test_run_lengths_sum_to_the_mean_run_length():
    walk = proof_walk(0.4, 0.1)
    chances = run_lengths(walk, 0.9, 3.65, 600)
    assert chances.sum() == pytest.approx(1, abs=1e-9)
    mean = (np.arange(1, 601) * chances).sum()
    assert mean_run_length(walk, 0.9, 3.65) == pytest.approx(mean, rel=1e-6)


def test_a_score_at_the_threshold_signals():
    assert signal_chance(Walk(UNIT, UNIT), 0.5, 3.0, 3) == 1 / 8


def test_no_attempts_give_no_proof():
    assert run_lengths(proof_walk(0.4, 0.1), 0.6, 3.65, 0).size == 0


def test_a_borrowed_threshold_is_worthless_without_its_number_of_attempts():
    # 0.903: computed with the prototype of the recursion.
    assert signal_chance(proof_walk(0.2, 0.1), 0.8, 1.25, 100) == pytest.approx(0.903, abs=5e-4)


@pytest.mark.parametrize(
    ("k", "within_12", "within_20"),
    [
        (3, 0.775, 0.928),
        (4, 0.501, 0.719),
        (5, 0.290, 0.478),
        (6, 0.159, 0.291),
        (8, 0.044, 0.097),
        (10, 0.011, 0.030),
    ],
)
def test_streak_rules_pass_students_who_fail_four_in_ten(k, within_12, within_20):
    # Computed with an independent prototype.
    found = streak_chance(k, 12, 0.6), streak_chance(k, 20, 0.6)
    assert found == pytest.approx((within_12, within_20), abs=6e-4)


def test_a_fair_coin_shows_three_in_a_row_in_520_of_1024_runs_of_ten():
    # Counted by writing out all runs.
    assert streak_chance(3, 10, 0.5) == pytest.approx(520 / 1024)


@pytest.mark.parametrize(
    ("k", "n", "chance"), [(1, 0, 0), (2, 1, 0), (1, 1, 0.6), (2, 2, 0.36)]
)
def test_short_streaks(k, n, chance):
    assert streak_chance(k, n, 0.6) == pytest.approx(chance)


@pytest.mark.parametrize(("k", "n", "p"), [(0, 5, 0.5), (3, -1, 0.5), (3, 5, 1.5)])
def test_an_impossible_streak_is_refused(k, n, p):
    with pytest.raises(ValueError, match="streak"):
        streak_chance(k, n, p)
