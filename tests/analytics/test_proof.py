"""Proof of proficiency: known error rates, and the chart over outcomes."""

from math import log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gradebook.analytics.proof import (
    choose_threshold,
    follow,
    proof_plan,
    proof_walk,
    relapse_walk,
)
from gradebook.analytics.runlengths import signal_chance

PLAN = proof_plan()

# Rates: computed with an independent prototype of the recursion. Mean run lengths: computed
# here. Both are held against simulations below.
PLANS = [
    ((0.40, 0.10, 20), 3.65, (0.0411, 0.844, 0.971), 10, (263.23, 15.14)),
    ((0.50, 0.20, 20), 3.35, (0.0484, 0.803, 0.984), 8, (229.66, 15.74)),
    ((0.40, 0.15, 12), 2.55, (0.0495, 0.536, 0.824), 8, (102.38, 14.42)),
    ((0.40, 0.15, 20), 3.20, (0.045, 0.679, 0.932), 10, (219.62, 18.82)),
    ((0.30, 0.10, 30), 3.55, (0.041, 0.716, 0.941), 15, (358.56, 26.47)),
    ((0.20, 0.10, 50), 2.85, (0.049, 0.497, 0.894), 25, (435.09, 59.55)),
    ((0.20, 0.10, 100), 3.70, (0.0490, 0.748, 0.994), 32, (1131.09, 82.19)),
]


@pytest.mark.parametrize(("rates", "h", "chances", "clean", "arls"), PLANS)
def test_a_plan_states_its_known_error_rates(rates, h, chances, clean, arls):
    plan = proof_plan(*rates)
    assert plan.h == choose_threshold(*rates) == h
    found = plan.false_proof, plan.true_proof, plan.true_proof_at_half
    assert found == pytest.approx(chances, abs=6e-4)
    assert plan.shortest_clean_run == clean
    assert (plan.arl0, plan.arl1) == pytest.approx(arls, abs=0.01)


@pytest.mark.parametrize(
    ("p0", "p1", "up", "down"),
    [(0.4, 0.1, 0.4055, 1.3863), (0.5, 0.2, 0.47, 0.9163), (0.2, 0.1, 0.1178, 0.6931)],
)
def test_scores_are_log_likelihood_ratios(p0, p1, up, down):
    walk = proof_walk(p0, p1)
    assert (walk.up / 1e9, walk.down / 1e9) == pytest.approx((up, down), abs=5e-5)
    back = relapse_walk(p0, p1)
    assert (back.up, back.down) == (walk.down, walk.up)


def simulated(plan, failure_rate, attempts, runs=20_000):
    """Attempts until proof in simulated runs (numpy, seed fixed); 0 where none came."""
    rng = np.random.default_rng(20)
    score, signal = np.zeros(runs), np.zeros(runs, int)
    for attempt in range(1, attempts + 1):
        failed = rng.random(runs) < failure_rate
        up, down = log((1 - plan.p1) / (1 - plan.p0)), log(plan.p0 / plan.p1)
        score = np.maximum(0, score + np.where(failed, -down, up))
        signal[(signal == 0) & (score >= plan.h - 1e-9)] = attempt
    return signal


@pytest.mark.parametrize("rates", [(0.40, 0.10, 20), (0.40, 0.15, 12), (0.50, 0.20, 20)])
def test_rates_agree_with_simulation(rates):
    plan = proof_plan(*rates)
    for failure_rate, chance in ((plan.p0, plan.false_proof), (plan.p1, plan.true_proof)):
        share = (simulated(plan, failure_rate, plan.attempts) > 0).mean()
        assert share == pytest.approx(chance, abs=4 * np.sqrt(chance * (1 - chance) / 20_000))


@pytest.mark.parametrize("rates", [(0.40, 0.10, 20), (0.40, 0.15, 20)])
def test_the_mean_run_until_true_proof_agrees_with_simulation(rates):
    plan = proof_plan(*rates)
    signal = simulated(plan, plan.p1, 400)
    assert (signal > 0).all()
    assert signal.mean() == pytest.approx(plan.arl1, abs=4 * signal.std() / np.sqrt(20_000))


def test_the_mean_run_until_false_proof_agrees_with_simulation():
    plan = proof_plan(0.40, 0.15, 20)
    signal = simulated(plan, plan.p0, 3000, runs=4000)
    assert (signal > 0).all()
    assert signal.mean() == pytest.approx(plan.arl0, abs=3 * signal.std() / np.sqrt(4000))


@pytest.mark.parametrize("rates", [case[0] for case in PLANS])
def test_the_threshold_is_the_smallest_on_its_grid(rates):
    p0, p1, attempts = rates
    h = choose_threshold(p0, p1, attempts)
    walk = proof_walk(p0, p1)
    assert signal_chance(walk, 1 - p0, h, attempts) <= 0.05
    assert signal_chance(walk, 1 - p0, round(h - 0.05, 2), attempts) > 0.05


@pytest.mark.parametrize("rates", [case[0] for case in PLANS])
def test_a_false_relapse_is_rare_and_a_true_one_is_not(rates):
    plan = proof_plan(*rates)
    back = relapse_walk(plan.p0, plan.p1)
    assert plan.false_relapse <= 0.05
    assert signal_chance(back, plan.p1, round(plan.relapse_h - 0.05, 2), plan.attempts) > 0.05
    assert plan.true_relapse > 10 * plan.false_relapse


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((0.1, 0.4, 20), "below"),
        ((0.4, 0.4, 20), "below"),
        ((0.4, 0.0, 20), "below"),
        ((0.4, 0.1, 0), "one attempt"),
        ((0.4, 0.1, 20, 0.0), "one attempt"),
        ((0.4, 0.1, 2), "cannot prove"),
    ],
)
def test_an_impossible_plan_is_refused(arguments, says):
    with pytest.raises(ValueError, match=says):
        proof_plan(*arguments)


def test_the_plan_says_what_its_proof_is_worth():
    assert PLAN.claim == (
        "Within 20 attempts a student who fails 40% of them is called proficient 4.1% of the "
        "time; one who fails 10%, 84%."
    )


@pytest.mark.parametrize(
    ("outcomes", "needed", "says"),
    [
        ([], 10, "Not attempted: nothing is proven. 10 attempts in a row"),
        ([True], 9, "Too few to prove anything after 1 attempt. 9 attempts in a row"),
        ([False], 10, "Too few to prove anything after 1 attempt. 10 attempts in a row"),
        ([True, True], 8, "Too few to prove anything after 2 attempts. 8 attempts in a row"),
        ([True] * 9, 1, "One more attempt that meets the standard would prove it."),
        ([False, True] * 6, 9, "Not proven after 12 attempts. 9 attempts in a row"),
    ],
)
def test_before_proof_the_chart_says_how_many_clean_attempts_are_missing(
    outcomes, needed, says
):
    chart = follow(outcomes, PLAN)
    assert not chart.is_proven
    assert chart.clean_needed == needed
    assert says in chart.finding


def test_ten_clean_attempts_prove_it():
    chart = follow([True] * 10, PLAN)
    assert (chart.proved_at, chart.clean_needed) == (9, 0)
    assert chart.finding == "Proven at attempt 10 of 10."
    assert chart.runs[0].scores[-1] == pytest.approx(10 * log(0.9 / 0.6))


def test_a_score_is_never_below_zero():
    assert follow([False, False, True], PLAN).runs[0].scores == (0, 0, pytest.approx(0.405465))


def test_one_failure_after_proof_is_no_relapse():
    chart = follow([True] * 10 + [False, True, True], PLAN)
    assert chart.proved_at == 9
    assert chart.relapsed_at is None
    assert chart.runs[1].first == 10
    assert chart.runs[1].scores[0] == pytest.approx(log(4))


def test_failures_after_proof_take_it_away_and_proof_starts_over():
    chart = follow([True] * 10 + [False] * 3, PLAN)
    assert chart.relapsed_at == 12
    assert not chart.is_proven
    assert chart.clean_needed == PLAN.shortest_clean_run
    assert chart.finding.startswith("Proof fell at attempt 13 of 13. 10 attempts in a row")
    again = follow([True] * 10 + [False] * 3 + [True] * 10, PLAN)
    assert (again.proved_at, again.relapsed_at) == (22, 12)
    assert [run.first for run in again.runs] == [0, 10, 13]


@given(st.lists(st.booleans(), max_size=60))
def test_the_clean_attempts_asked_for_are_enough_and_not_one_too_many(outcomes):
    chart = follow(outcomes, PLAN)
    if chart.clean_needed:
        assert follow(outcomes + [True] * chart.clean_needed, PLAN).is_proven
        assert not follow(outcomes + [True] * (chart.clean_needed - 1), PLAN).is_proven
    assert sum(len(run.scores) for run in chart.runs) == len(outcomes)
