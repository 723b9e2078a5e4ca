"""What the needle says today: the chance, how fresh, how much longer."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy.stats import norm

from gradebook.analytics.needle.outlook import (
    STALE_BELOW,
    Skill,
    days_until_stale,
    outlooks,
    retention,
    skill,
)
from gradebook.analytics.needle.parameters import TaskCurve, speed_nodes
from gradebook.analytics.needle.prospect import FURTHEST, prospects
from tests.analytics.needle_school import (
    NOWHERE,
    after,
    defaults,
    one_task,
    random_rows,
    reached,
)

KNOWN = defaults()
TASKS = [f"task-{place}" for place in range(6)]


def told(*grades: int, idle: float = 0.0):
    """The outlook of one task some days after these grades."""
    believed = after(one_task(*grades), KNOWN) if grades else None
    day = len(grades) - 1 + idle
    return outlooks(skill(believed, KNOWN, ["hover"], day), KNOWN)["hover"]


def at(mean: float, spread: float = 0.2) -> Skill:
    """One task whose skill lies about here, well known, flown today."""
    nodes = KNOWN.nodes
    one = np.ones((nodes, 1))
    return Skill(
        ("hover",), mean * one, 0 * one, spread**2 * one, mean * one, 0 * one,
        np.zeros(nodes), np.full(nodes, 0.01),
        speed_nodes(nodes)[1], attempts=np.array([5.0]), idle=np.zeros(1), retention=np.ones(1),
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(8))
def test_the_chance_lies_inside_its_interval(seed):
    for student in ("s0", "s1", "s2"):
        believed = after(random_rows(seed), KNOWN, student)
        for idle in (0, 90, 700):
            for one in outlooks(skill(believed, KNOWN, TASKS, 400 + idle), KNOWN).values():
                assert 0 <= one.low < one.chance < one.high <= 1


def test_a_student_nobody_has_graded_stands_at_the_start():
    one = told()
    curve, spread = KNOWN.typical, KNOWN.spread
    variance = spread.ability**2 + spread.deviation**2 + curve.unsure**2 + spread.day**2
    assert one.chance == pytest.approx(reached(curve.start, variance))
    assert (one.attempts, one.idle, one.retention) == (0, None, 1)
    assert one.few
    assert not one.stale


def test_the_fewer_students_were_fitted_on_the_wider_is_the_interval():
    for students, wider in ((0, 1.0), (8, 1.5), (40, 1.1)):
        one = outlooks(at(0.4, spread=0.5), replace(KNOWN, students=students))["hover"]
        reach = norm.ppf(0.9) * 0.5 * np.sqrt(wider)
        day = KNOWN.spread.day**2
        assert one.low == pytest.approx(reached(0.4 - reach, day))
        assert one.high == pytest.approx(reached(0.4 + reach, day))
        assert one.chance == outlooks(at(0.4, spread=0.5), KNOWN)["hover"].chance


def test_the_interval_holds_four_in_five_of_the_skills_believed_in():
    now = skill(after(one_task(2, 3, 3), KNOWN), KNOWN, ["hover"], 2)
    random = np.random.default_rng(1)
    speed = random.choice(KNOWN.nodes, 200_000, p=now.weight)
    drawn = random.normal(now.mean[speed, 0], np.sqrt(now.variance[speed, 0]))
    chance = reached(drawn, KNOWN.spread.day**2)
    one = outlooks(now, KNOWN)["hover"]
    assert ((one.low < chance) & (chance < one.high)).mean() == pytest.approx(0.8, abs=0.01)
    assert chance.mean() == pytest.approx(one.chance, abs=0.003)


def test_fewer_than_three_grades_are_few():
    assert [told(*[3] * n).few for n in range(5)] == [True, True, True, False, False]


@pytest.mark.parametrize("attempts", [1, 2, 5, 12])
def test_a_task_is_stale_on_the_day_foretold_and_not_before(attempts):
    days = days_until_stale(KNOWN, attempts)
    assert not told(*[3] * attempts, idle=days - 1).stale
    assert told(*[3] * attempts, idle=days).stale
    assert days_until_stale(KNOWN, attempts + 1) > days


def test_what_lasts_long_is_stale_after_two_years_at_the_latest():
    lasting = defaults(retention=1e6)
    assert days_until_stale(lasting, 3) == 730
    assert days_until_stale(defaults(retention=1e-9), 1) == 1


def test_a_task_never_flown_is_never_stale():
    assert not told(idle=5000.0).stale


def test_retention_starts_whole_and_falls():
    kept = retention(KNOWN, np.array([0.0, 30.0, 300.0]), np.array([2.0, 2.0, 2.0]))
    assert kept[0] == 1
    assert list(kept) == sorted(kept, reverse=True)
    assert kept[2] < STALE_BELOW


def test_an_unknown_date_of_the_last_flight_is_no_rest():
    believed = after(one_task(3, 4, days=(0.0, NOWHERE)), KNOWN)
    one = outlooks(skill(believed, KNOWN, ["hover"], 900), KNOWN)["hover"]
    assert (one.idle, one.retention, one.attempts) == (None, 1, 2)


def test_better_grades_raise_the_chance_in_other_tasks_a_little():
    bad, good = (after(one_task(*grades), KNOWN) for grades in ((1, 1, 1), (4, 4, 4)))
    lower, higher = (
        outlooks(skill(one, KNOWN, ["hover", "run-up"], 2), KNOWN) for one in (bad, good)
    )
    rise = {task: higher[task].chance - lower[task].chance for task in ("hover", "run-up")}
    assert 0 < rise["run-up"] < rise["hover"]


def test_no_task_has_no_outlook():
    assert outlooks(skill(None, KNOWN, [], 0), KNOWN) == {}
    assert outlooks(skill(after(one_task(3), KNOWN), KNOWN, [], 0), KNOWN) == {}
    assert prospects(skill(None, KNOWN, [], 0), KNOWN, 7) == {}


def test_who_is_proficient_needs_no_more_attempts():
    one = prospects(at(3.0), KNOWN, 7.0)["hover"]
    assert (one.low, one.median, one.high, one.reached) == (0, 0, 0, 1)
    assert not one.unlikely


def test_a_plateau_below_the_standard_is_never_reached():
    low = replace(KNOWN, tasks={"hover": TaskCurve(-3.0, -2.0, 0.2, 0.1)})
    one = prospects(at(-2.5), low, 7.0)["hover"]
    assert (one.low, one.median, one.high) == (None, None, None)
    assert one.reached < 0.05
    assert one.unlikely


def test_the_higher_the_start_the_fewer_the_attempts():
    medians = [prospects(at(mean), KNOWN, 7.0)["hover"].median for mean in (-1, -0.5, 0, 0.5)]
    assert medians == sorted(medians, reverse=True)
    assert medians[0] > medians[-1]


def test_flying_oftener_never_takes_more_attempts():
    found = [prospects(at(-0.8), KNOWN, pace)["hover"] for pace in (1, 7, 21, 60)]
    counts = [one.median or FURTHEST + 1 for one in found]
    assert counts == sorted(counts)
    assert counts[0] < counts[-1]
    reached = [one.reached for one in found]
    assert reached == sorted(reached, reverse=True)


def test_the_middle_number_of_attempts_lies_inside_its_interval():
    one = prospects(at(-0.6), KNOWN, 4.0)["hover"]
    assert one.low <= one.median <= (one.high or FURTHEST + 1)
    assert one.low < (one.high or FURTHEST + 1)


@pytest.mark.parametrize("pace", [3.0, 45.0])
def test_the_attempts_foretold_agree_with_simulated_futures(pace):
    start, spread, curve = at(-0.6, 0.5), KNOWN.spread, KNOWN.typical
    random, paths = np.random.default_rng(8), 40_000
    points, weights = speed_nodes(KNOWN.nodes)
    speed = np.exp(spread.speed * random.choice(points, paths, p=weights))
    ability = 0.1 * random.standard_normal(paths)
    now, path = random.normal(-0.6, 0.5, paths), np.full(paths, -0.6)
    jolt = np.sqrt(spread.practice**2 + (1 - spread.hold**2) * curve.vague**2)
    when = np.full(paths, FURTHEST + 1)
    for n in range(FURTHEST + 1):
        chance = reached(now, spread.day**2)
        when = np.where((when > FURTHEST) & (chance >= 0.8), n, when)
        goal = curve.plateau + spread.carry * ability
        then = path + (1 - (1 - curve.rate) ** speed) * (goal - path)
        now = then + spread.hold * (now - path) + random.normal(0, jolt, paths)
        lasts = spread.retention * (1 + 5 + n + 1) ** spread.durability
        begin = curve.start + ability
        now = begin + np.exp(-pace / lasts) * (now - begin)
        path = begin + np.exp(-pace / lasts) * (then - begin)
        now = now + random.normal(0, spread.rest * np.sqrt(pace), paths)
    one = prospects(start, KNOWN, pace)["hover"]
    assert one.reached == pytest.approx((when <= FURTHEST).mean(), abs=0.03)
    median = np.quantile(when, 0.5, method="inverted_cdf")
    assert abs((one.median or FURTHEST + 1) - median) <= 1


def test_the_same_beliefs_foretell_the_same():
    now = skill(after(one_task(2, 3, 2), KNOWN), KNOWN, ["hover", "run-up"], 30)
    assert prospects(now, KNOWN, 5.0) == prospects(now, KNOWN, 5.0)
    attempts = now.attempts.tolist()
    prospects(now, KNOWN, 5.0)
    assert now.attempts.tolist() == attempts


def test_attempts_become_a_day_at_the_present_pace():
    one = prospects(at(-0.6), KNOWN, 3.5)["hover"]
    today = date(2031, 5, 28)
    assert one.day(today, None) is None
    assert one.day(today, 0) == today
    assert one.day(today, 4) == date(2031, 6, 11)
