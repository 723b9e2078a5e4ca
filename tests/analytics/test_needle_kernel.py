"""One step of the needle: a grade, an attempt, a rest, against references written out here."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from gradebook.analytics.needle.coefficients import default_parameters
from gradebook.analytics.needle.kernel import run
from gradebook.analytics.needle.march import march
from gradebook.analytics.needle.outlook import chance_and_interval, skill
from gradebook.analytics.needle.parameters import (
    Hand,
    Parameters,
    Spread,
    TaskCurve,
    default_cuts,
    speed_nodes,
)
from gradebook.analytics.needle.replay import prepared, replay
from tests.analytics.needle_school import (
    NOTHING,
    STILL,
    after,
    defaults,
    log_of,
    neutral,
    one_task,
    random_rows,
    reached,
    still,
)


def test_a_grade_moves_the_skill_as_the_closed_form_says():
    # computed with scipy.integrate.quad: mean -.5, variance .64, interval (0, 1.6]
    done = replay(log_of(one_task(2)), still((0.0, 1.6)))
    known = done.beliefs["s0"]
    assert np.exp(done.log_chance[0]) == pytest.approx(0.2975868443, abs=1e-9)
    assert known.offset[0, 0] == pytest.approx(-0.0538371869, abs=1e-9)
    assert known.residual[0, 0] == pytest.approx(0.4189522850, abs=1e-9)


def by_quadrature(mean, variance, low, high, noise):
    """Chance, mean and variance of a normal skill seen through noise between two cuts."""
    sd = np.sqrt(noise)

    def part(power):
        def weighed(skill):
            seen = norm.cdf((high - skill) / sd) - norm.cdf((low - skill) / sd)
            return skill**power * seen * norm.pdf(skill, mean, np.sqrt(variance))

        reach = 12 * np.sqrt(variance)
        return quad(weighed, mean - reach, mean + reach, epsabs=1e-13, limit=400)[0]

    chance = part(0)
    first = part(1) / chance
    return chance, first, part(2) / chance - first**2


@pytest.mark.parametrize("seed", range(12))
def test_a_grade_agrees_with_integration_whatever_the_instructor_and_the_day(seed):
    random = np.random.default_rng(seed)
    ability, deviation, day, unsure, error = random.uniform(0.1, 1.2, 5)
    start, severity = random.normal(0, 1.2, 2)
    hand = Hand(float(severity), float(random.uniform(0.6, 1.6)), float(error), 9)
    cuts, grade = (-1.4, 0.0, 0.9), int(random.integers(1, 5))
    known = Parameters(
        {"grade": cuts},
        replace(STILL, ability=float(ability), deviation=float(deviation), day=float(day)),
        instructors={"Ben": hand},
        typical=TaskCurve(float(start), 0.0, 0.0, float(unsure)),
        nodes=1,
    )
    known = replace(known, spread=replace(known.spread, carry=1.0))
    ends = np.array([-np.inf, *cuts, np.inf]) * hand.spread + severity
    variance = ability**2 + deviation**2 + unsure**2
    expected = by_quadrature(
        start, variance, ends[grade - 1], ends[grade], 1 + day**2 + error**2
    )
    done = replay(log_of(one_task(grade)), known)
    now = skill(done.beliefs["s0"], known, ["hover"], 0)
    found = (np.exp(done.log_chance[0]), now.mean[0, 0], now.variance[0, 0])
    assert found == pytest.approx(expected, abs=1e-7)
    # what ability shares with the skill moves it in proportion (two jointly normal variables)
    share = ability**2 / variance
    assert now.ability[0] == pytest.approx(share * (expected[1] - start), abs=1e-7)
    left = ability**2 - share**2 * (variance - expected[2])
    assert now.doubt[0] == pytest.approx(left, abs=1e-7)


def of_one_day(grades, cuts, start, day):
    """Chance of all these grades on one day, of skills that are known: by integration."""
    ends = np.array([-np.inf, *cuts, np.inf]) - start

    def weighed(mood):
        each = [norm.cdf(ends[one] - mood) - norm.cdf(ends[one - 1] - mood) for one in grades]
        return np.prod(each) * norm.pdf(mood, 0, day)

    return quad(weighed, -9 * day, 9 * day, epsabs=1e-13, limit=400)[0]


@pytest.mark.parametrize("grades", [(1, 4), (4, 4), (2, 3), (1, 1, 1, 2), (4, 2, 3, 3, 4)])
def test_the_grades_of_a_lesson_tell_together_what_day_it_is(grades):
    day, start, cuts = 0.9, -0.5, (-1.0, 0.0, 1.0)
    known = still(cuts, start=start)
    known = replace(known, spread=replace(STILL, deviation=NOTHING, day=day))
    rows = [("s0", f"task-{at}", "Ben", 1, 0.0, one) for at, one in enumerate(grades)]
    done = replay(log_of([*rows, ("s0", "flare", "Ben", 2, 0.0, grades[0])]), known)
    chance = np.exp(done.log_chance[:-1].sum())
    assert chance == pytest.approx(of_one_day(grades, cuts, start, day), rel=0.02)
    # another lesson is another day
    assert np.exp(done.log_chance[-1]) == pytest.approx(
        of_one_day(grades[:1], cuts, start, day)
    )


def test_more_rounds_among_the_grades_of_a_lesson_change_next_to_nothing():
    known, log = defaults(day=0.6), log_of(random_rows(3, students=6, lessons=6))
    often = replace(prepared(log, known), sweeps=20)
    done = run(march(log), often, None, record=True)
    chance, _, _ = chance_and_interval(done.weight, done.mean, done.variance, known)
    assert chance == pytest.approx(neutral(replay(log, known), known), abs=1e-3)


@pytest.mark.parametrize("start", [-400.0, -40.0, -12.0, 12.0, 40.0, 400.0])
def test_a_grade_beyond_all_expectation_leaves_a_proper_belief(start):
    surprise = 4 if start < 0 else 1
    hopeless = replace(defaults(), typical=TaskCurve(start, start, 0.2, 0.5))
    done = replay(log_of(one_task(surprise, surprise, 5 - surprise)), hopeless)
    known = done.beliefs["s0"]
    assert np.isfinite(done.log_chance).all()
    assert (known.residual > 0).all()
    assert (known.precision > 0).all()
    assert np.isfinite(known.offset).all()
    assert known.weight.sum() == pytest.approx(1)
    toward_zero = known.offset[:, 0] * np.sign(start)
    assert (toward_zero <= abs(start)).all()


def flown(path, curve, spread, student):
    """Where an attempt brings the curve of students of some speed and ability."""
    speed, ability = student
    goal = curve.plateau + spread.carry * ability
    return path + (1 - (1 - curve.rate) ** speed) * (goal - path)


def jolt(curve, spread):
    """Standard deviation that an attempt adds."""
    return np.sqrt(spread.practice**2 + (1 - spread.hold**2) * curve.vague**2)


def simulated(rows, known, paths=150_000):
    """Neutral chance of every grade before its lesson, by weighing simulated students."""
    random, spread = np.random.default_rng(5), known.spread
    points, weights = speed_nodes(known.nodes)
    speed = np.exp(spread.speed * random.choice(points, paths, p=weights))
    ability = spread.ability * random.standard_normal(paths)
    begin, now, path, n, last = {}, {}, {}, {}, {}
    for task in {row[1] for row in rows}:
        curve = known.curve(task)
        begin[task] = curve.start + ability
        sd = np.hypot(spread.deviation, curve.unsure)
        now[task], n[task] = begin[task] + sd * random.standard_normal(paths), 0
        path[task] = begin[task]
    weight, expected = np.ones(paths), []
    for lesson in dict.fromkeys(row[3] for row in rows):
        mine = [row for row in rows if row[3] == lesson]
        mood = spread.day * random.standard_normal(paths)
        for _, task, _, _, day, _ in mine:  # a task once a lesson
            gap = day - last.get(task, day)
            keep = np.exp(-gap / (spread.retention * (1 + n[task]) ** spread.durability))
            noise = spread.rest * np.sqrt(gap) * random.standard_normal(paths)
            now[task] = begin[task] + keep * (now[task] - begin[task]) + noise
            path[task] = begin[task] + keep * (path[task] - begin[task])
            expected.append(np.average(reached(now[task] + mood), weights=weight))
        for _, task, hand, _, day, grade in mine:
            one, curve = known.hand(hand), known.curve(task)
            ends = np.array([-np.inf, *known.cuts["grade"], np.inf]) * one.spread + one.severity
            low, high = ends[grade - 1 : grade + 1, None] - now[task] - mood
            doubt = one.error**2
            weight = weight * (reached(high, doubt) - reached(low, doubt))
            noise = random.standard_normal(paths)
            off = now[task] - path[task]
            path[task] = flown(path[task], curve, spread, (speed, ability))
            now[task] = path[task] + spread.hold * off + jolt(curve, spread) * noise
            n[task], last[task] = n[task] + 1, day
    return np.array(expected)


@pytest.mark.parametrize("day", [0.0, 0.3, 0.8])
@pytest.mark.parametrize("grades", [(1, 2, 2, 3, 3, 4), (4, 1, 3, 1, 2, 1), (3, 4, 4, 4, 4, 4)])
def test_forecasts_agree_with_simulated_students(grades, day):
    # The simulation's own standard error is under .002. The rest is the filter's: grades
    # taken for normal (worst for hands that change their mind), what tasks of one day share
    # forgotten with the day, and what the others say of a day kept from each task.
    known = replace(
        defaults(ability=0.8, day=day),
        instructors={"Ben": Hand(0.4, 1.2, 0.1, 50), "Dov": Hand(-0.4, 0.9, 0.1, 50)},
        tasks={
            "hover": TaskCurve(-0.3, 1.8, 0.3, 0.2),
            "run-up": TaskCurve(0.2, 1.2, 0.2, 0.2),
        },
    )
    flown = ((1, 0.0, "Ben"), (2, 6.0, "Dov"), (3, 36.0, "Ben"))
    tasks = [(one, task) for one in flown for task in ("hover", "run-up")]
    rows = [
        ("s0", task, hand, lesson, when, grade)
        for ((lesson, when, hand), task), grade in zip(tasks, grades, strict=True)
    ]
    found = neutral(replay(log_of(rows), known), known)
    assert found == pytest.approx(simulated(rows, known), abs=0.05 if day > 0.5 else 0.015)


def test_an_attempt_moves_the_curve_and_holds_what_the_skill_is_off_it():
    idle = replace(defaults(practice=0.0, hold=1.0), typical=TaskCurve(-1.0, 2.0, 0.0, 0.3))
    busy = replace(
        defaults(practice=0.4, hold=0.7), typical=TaskCurve(-1.0, 2.0, 0.3, 0.3, 0.2)
    )
    still_, moved = (after(one_task(2), one) for one in (idle, busy))
    gain = 1 - 0.7 ** np.exp(busy.spread.speed * speed_nodes(busy.nodes)[0])
    curve, lean = -1.0 + gain * 3.0, np.maximum(1.0 + gain * (busy.spread.carry - 1.0), 0.7)
    offset, loading = still_.offset[:, 0], still_.loading[:, 0]
    assert moved.path[:, 0] == pytest.approx(curve)
    assert moved.lean[:, 0] == pytest.approx(lean)
    assert moved.offset[:, 0] == pytest.approx(curve + 0.7 * (offset + 1.0))
    assert moved.loading[:, 0] == pytest.approx(lean + 0.7 * (loading - 1.0))
    left = 0.7**2 * still_.residual[:, 0] + 0.4**2 + (1 - 0.7**2) * 0.2**2
    assert moved.residual[:, 0] == pytest.approx(left)
    assert moved.attempts.tolist() == [1]


def test_rest_lets_a_skill_drift_back_to_its_start():
    known = defaults()
    believed, days = after(one_task(3, 4, 4), known), 50.0
    lasts = known.spread.retention * 4**known.spread.durability
    keep, start = np.exp(-days / lasts), known.typical.start
    offset, loading = believed.offset[:, 0], believed.loading[:, 0]
    ability, doubt = believed.pull / believed.precision, 1 / believed.precision
    mean = start + keep * (offset - start) + (1 + keep * (loading - 1)) * ability
    residual = keep**2 * believed.residual[:, 0] + known.spread.rest**2 * days
    variance = residual + (1 + keep * (loading - 1)) ** 2 * doubt
    now = skill(believed, known, ["hover"], 2 + days)
    assert now.mean[:, 0] == pytest.approx(mean)
    assert now.variance[:, 0] == pytest.approx(variance)
    assert now.retention[0] == pytest.approx(keep)
    # a replay that goes on after the same rest expects the same
    on = replay(log_of(one_task(3, 4, 4, 1, days=(0, 1, 2, 52))), known)
    assert on.mean[:, 3] == pytest.approx(mean)
    assert on.variance[:, 3] == pytest.approx(variance)


@pytest.mark.parametrize("levels", [2, 3, 5, 9])
def test_the_chances_of_all_levels_add_up_to_one(levels):
    known = defaults(levels, max(2, levels - 1))
    before = random_rows(levels, students=1, levels=levels)
    last = [("s0", "task-1", "instructor-1", 99, 400.0, at) for at in range(1, levels + 1)]
    chance = [np.exp(replay(log_of([*before, row]), known).log_chance[-1]) for row in last]
    assert min(chance) > 0
    assert sum(chance) == pytest.approx(1, abs=1e-9)


def test_tasks_on_different_scales_stand_in_one_log():
    known = default_parameters([("passed", 2, 2), ("five", 5, 4)])
    known = replace(known, spread=replace(known.spread, ability=NOTHING, day=0.0, speed=0.0))
    steps = [("s0", "hover", "Ben", at, float(at), 1 + at % 2) for at in range(6)]
    run_up = [("s0", "run-up", "Ben", at, float(at), 1 + at % 5) for at in range(6)]
    both = [row for pair in zip(steps, run_up, strict=True) for row in pair]
    scales = {"hover": "passed", "run-up": "five"}
    together = replay(log_of(both, scales), known)
    for place, alone in enumerate((steps, run_up)):
        apart = replay(log_of(alone, {row[1]: scales[row[1]] for row in alone}), known)
        assert together.log_chance[place::2] == pytest.approx(apart.log_chance, abs=1e-9)


def test_a_standard_that_every_grade_meets_is_refused():
    for levels, standard in ((4, 1), (4, 5), (2, 3), (1, 1)):
        with pytest.raises(ValueError, match="standard lies between 2"):
            default_cuts(levels, standard)
    assert default_cuts(2, 2) == (0.0,)
    assert default_cuts(4, 3) == (-1.5, 0.0, 1.5)


def test_the_published_defaults_are_those_the_notes_give():
    assert Spread() == Spread(0.6, 0.6, 0.25, 0.015, 0.3, 80.0, 0.4, 0.4, 0.5, 0.85)
