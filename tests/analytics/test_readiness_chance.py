"""The chance of passing a stage check, its calibration, and what to fly next."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import logit
from scipy.stats import norm
from sklearn.linear_model import LogisticRegression

from gradebook.analytics.needle.outlook import outlooks, skill
from gradebook.analytics.needle.parameters import NODES
from gradebook.analytics.readiness import Calibration, calibrate, check_chance, grid
from gradebook.analytics.suggestion import GAIN, STALE, WATCHED, Wish, practised, suggest
from tests.analytics.needle_school import after, defaults, random_rows

KNOWN = defaults()
TASKS = [f"task-{place}" for place in range(5)]


def believed(seed, parameters=KNOWN, tasks=TASKS):
    """Skill in the named tasks of a student of a random school, soon after the last lesson."""
    rows = random_rows(seed, students=1, lessons=9)
    return skill(after(rows, parameters), parameters, tasks, 160)


def raised(known, by, place=slice(None)):
    """The same skill, but better in one task or in all."""
    offset = known.offset.copy()
    offset[:, place] += by
    return replace(known, offset=offset)


def by_simulation(known, day, paths=400_000):
    """Share of simulated check days on which every task is met."""
    random = np.random.default_rng(3)
    speed = random.choice(len(known.weight), paths, p=known.weight)
    ability = random.normal(known.ability[speed], np.sqrt(known.doubt[speed]))
    mean = known.offset[speed] + known.loading[speed] * ability[:, None]
    now = random.normal(mean, np.sqrt(known.residual[speed]))
    noise = random.standard_normal(now.shape)
    seen = now + random.normal(0, day, (paths, 1)) + noise
    return (seen > 0).all(axis=1).mean()


@pytest.mark.parametrize("seed", range(5))
def test_a_check_of_one_task_is_that_tasks_own_chance(seed):
    known = believed(seed)
    for task, one in outlooks(known, KNOWN).items():
        alone = check_chance(believed(seed, tasks=[task]), KNOWN)
        assert alone.chance == pytest.approx(one.chance, abs=1e-5)
        assert alone.separate == pytest.approx(one.chance, abs=1e-5)
        assert (alone.low, alone.high) == pytest.approx((one.low, one.high), abs=0.08)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("day", [0.0, 0.3, 1.0])
def test_the_joint_chance_agrees_with_simulated_days(seed, day):
    parameters = defaults(day=day)
    known = raised(believed(seed, parameters), 1.0)
    # 400 000 days: standard error under .0008
    expected = by_simulation(known, day)
    assert check_chance(known, parameters).chance == pytest.approx(expected, abs=0.003)


def test_what_tasks_share_makes_passing_all_likelier_than_the_product():
    for seed in range(5):
        calm, moody = defaults(day=0.05), defaults(day=1.0)
        one, two = (check_chance(raised(believed(seed, p), 0.8), p) for p in (calm, moody))
        assert one.chance > one.separate
        assert two.chance - two.separate > one.chance - one.separate
        alone = replace(believed(seed), doubt=np.full(NODES, 1e-12), weight=np.eye(NODES)[1])
        apart = check_chance(alone, defaults(day=1e-6))
        assert apart.chance == pytest.approx(apart.separate, abs=1e-9)


def test_a_good_day_is_good_for_every_task():
    # eight tasks at a skill of 1.2, day effect .8: computed with numpy's Gauss-Hermite rule
    known = skill(None, KNOWN, [f"t{at}" for at in range(8)], 0)
    sharp = replace(
        known,
        offset=np.full((NODES, 8), 1.2),
        loading=np.zeros((NODES, 8)),
        residual=np.zeros((NODES, 8)),
    )
    found = check_chance(sharp, defaults(day=0.8))
    points, weights = np.polynomial.hermite.hermgauss(80)
    joint = (weights @ norm.cdf(1.2 + 0.8 * np.sqrt(2) * points) ** 8) / np.sqrt(np.pi)
    assert found.chance == pytest.approx(joint, abs=2e-3)
    assert found.separate == pytest.approx(norm.cdf(1.2 / np.sqrt(1.64)) ** 8, abs=1e-4)
    assert found.chance > found.separate + 0.1


def test_no_task_is_a_sure_pass():
    found = check_chance(skill(None, KNOWN, [], 0), KNOWN)
    assert (found.chance, found.separate, found.tasks) == (
        pytest.approx(1),
        pytest.approx(1),
        0,
    )
    assert (found.low, found.high) == (pytest.approx(1), pytest.approx(1))


def test_more_skill_is_a_better_chance_and_more_tasks_a_worse_one():
    known = believed(2)
    chances = [check_chance(raised(known, by), KNOWN) for by in (-1, 0, 1, 2)]
    for part in ("chance", "low", "high"):
        values = [getattr(one, part) for one in chances]
        assert values == sorted(values)
    fewer = [check_chance(believed(2, tasks=TASKS[:n]), KNOWN).chance for n in range(1, 6)]
    assert fewer == sorted(fewer, reverse=True)
    assert all(one.low <= one.chance <= one.high for one in chances[1:])
    assert check_chance(known, KNOWN) == check_chance(known, KNOWN)


def test_few_past_checks_leave_the_chance_alone():
    random = np.random.default_rng(0)
    for n in (0, 1, 2, 49):
        found = calibrate(random.random(n), np.zeros(n))
        assert (found.checks, found.enough) == (n, False)
        assert [found(chance) for chance in (0.0, 0.3, 1.0)] == [0.0, 0.3, 1.0]
    assert calibrate(random.random(50), np.zeros(50)).enough


def test_many_past_checks_move_it_as_a_logistic_regression_would():
    # reference: scikit-learn, on so many checks that our weak priors hardly tell
    random = np.random.default_rng(4)
    chances = random.uniform(0.02, 0.98, 6000)
    passed = (random.random(6000) < 1 / (1 + np.exp(0.9 - 0.7 * logit(chances)))).astype(float)
    theirs = LogisticRegression(C=1e9, tol=1e-8).fit(logit(chances)[:, None], passed)
    ours = calibrate(chances, passed)
    assert ours.shift == pytest.approx(theirs.intercept_[0], abs=0.01)
    assert ours.slope == pytest.approx(theirs.coef_[0, 0], abs=0.01)
    expected = theirs.predict_proba(logit([[0.4]]))[0, 1]
    assert ours(0.4) == pytest.approx(expected, abs=0.005)


def test_a_calibrated_chance_stays_a_chance():
    strange = Calibration(-3.0, 2.0, 80)
    values = [strange(chance) for chance in (0.0, 0.2, 0.5, 0.9, 1.0)]
    assert values == sorted(values)
    assert 0 <= values[0] <= values[-1] <= 1
    assert Calibration(0.0, 1.0, 80)(0.37) == pytest.approx(0.37)


def test_all_passed_is_still_no_certainty():
    found = calibrate(np.full(60, 0.7), np.ones(60))
    assert 0.7 < found(0.7) < 1


def wish(minutes=1000.0, **more):
    """A lesson so long, every task ten minutes."""
    return Wish(minutes, dict.fromkeys(TASKS, 10.0), **more)


def test_watched_tasks_come_first_then_stale_ones_then_by_gain():
    known = believed(1)
    picks = suggest(known, KNOWN, wish(watched={"task-3"}, stale={"task-0", "task-4"}))
    assert picks[0].task == "task-3"
    assert {one.task for one in picks[1:3]} == {"task-0", "task-4"}
    assert [one.why for one in picks] == [WATCHED, STALE, STALE, GAIN, GAIN]
    assert sorted(one.task for one in picks) == TASKS
    free = suggest(known, KNOWN, wish())
    first = {one.task: suggest(known, KNOWN, wish(watched={one.task}))[0].gain for one in free}
    assert max(first, key=first.__getitem__) == free[0].task


@pytest.mark.parametrize("seed", range(5))
def test_the_gains_add_up_to_the_rise_of_the_chance_of_passing(seed):
    known = believed(seed)
    picks = suggest(known, KNOWN, wish())
    rise = grid(practised(known, KNOWN), KNOWN).all_met - grid(known, KNOWN).all_met
    assert sum(one.gain for one in picks) == pytest.approx(rise, abs=1e-9)


def test_only_what_fits_into_the_minutes_is_suggested():
    known = believed(1)
    assert len(suggest(known, KNOWN, wish(35.0))) == 3
    assert len(suggest(known, KNOWN, wish(30.0))) == 3
    each = {"task-0": 40.0, "task-1": 10.0, "task-2": 10.0, "task-3": 90.0, "task-4": 10.0}
    mixed = suggest(known, KNOWN, Wish(60.0, each, watched={"task-0"}))
    assert mixed[0].task == "task-0"
    assert [one.minutes for one in mixed] == [40.0, 10.0, 10.0]


def test_the_first_is_suggested_even_when_it_is_too_long():
    picks = suggest(believed(1), KNOWN, wish(5.0))
    assert len(picks) == 1


def test_quick_tasks_come_before_slow_ones_of_the_same_gain():
    alike = skill(None, KNOWN, ["a", "b", "c"], 0)
    picks = suggest(alike, KNOWN, Wish(300.0, {"a": 20.0, "b": 5.0, "c": 10.0}))
    assert [one.task for one in picks] == ["b", "c", "a"]


def test_nothing_to_choose_from_suggests_nothing():
    assert suggest(skill(None, KNOWN, [], 0), KNOWN, Wish(60.0, {})) == ()


def test_an_attempt_of_an_unlearnt_task_raises_its_chance():
    known = skill(None, KNOWN, TASKS, 0)
    for one in suggest(known, KNOWN, wish()):
        assert 0 < one.before < one.after < 1
        assert one.gain > 0
        assert one.before == pytest.approx(outlooks(known, KNOWN)[one.task].chance, abs=1e-5)
