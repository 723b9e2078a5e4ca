"""Reading histories: a lesson at a time or all at once, in any company, only forward."""

from dataclasses import replace

import numpy as np
import pytest

from gradebook.analytics.forecast import attempts_before
from gradebook.analytics.needle.beliefs import beliefs_from
from gradebook.analytics.needle.floats import Flags, Floats
from gradebook.analytics.needle.log import GradeLog
from gradebook.analytics.needle.outlook import outlooks, skill
from gradebook.analytics.needle.parameters import (
    NODES,
    Hand,
    Parameters,
    TaskCurve,
    parameters_from,
)
from gradebook.analytics.needle.replay import advance, replay
from tests.analytics.needle_school import (
    NOWHERE,
    Row,
    after,
    defaults,
    lessons_of,
    log_of,
    neutral,
    one_task,
    random_rows,
    step_by_step,
)

SEEDS = range(6)


def fitted(nodes: int = 3) -> Parameters:
    """Parameters with tasks and instructors of their own, and some left unknown."""
    return replace(
        defaults(),
        tasks={
            "task-0": TaskCurve(-0.7, 1.1, 0.31, 0.21),
            "task-3": TaskCurve(0.4, 2, 0.1, 0.3),
        },
        instructors={"instructor-1": Hand(0.37, 1.21, 0.11, 40)},
        nodes=nodes,
    )


def grades_changed(rows, places, to=None):
    """The rows with other grades at these places."""
    return [
        (*row[:5], to or 5 - row[5]) if place in places else row
        for place, row in enumerate(rows)
    ]


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("nodes", [1, 3, 5])
def test_a_lesson_at_a_time_equals_all_at_once_to_the_last_bit(seed, nodes):
    rows, known = random_rows(seed), fitted(nodes)
    whole = replay(log_of(rows), known)
    for place, student in enumerate(whole.log.students):
        done = step_by_step(rows, student, known)
        assert done[-1].beliefs[student].tasks == whole.beliefs[student].tasks
        assert done[-1].beliefs[student].as_bytes() == whole.beliefs[student].as_bytes()
        mine = whole.log.student == place
        for part in ("mean", "variance", "weight", "log_chance"):
            stepped = np.concatenate([getattr(one, part) for one in done], axis=-1)
            assert np.array_equal(stepped, getattr(whole, part)[..., mine])


@pytest.mark.parametrize("seed", SEEDS)
def test_a_student_is_judged_alike_in_any_company(seed):
    rows, known = random_rows(seed, students=7), fitted()
    together = replay(log_of(rows), known).beliefs
    shuffled = np.random.default_rng(seed).permutation(sorted(together))
    again = [row for student in shuffled for row in rows if row[0] == student]
    renamed = [(f"{9 - int(row[0][1:])}", *row[1:]) for row in rows]
    reversed_ = replay(log_of(renamed), known).beliefs
    in_other_order = replay(log_of(again), known).beliefs
    for student, believed in together.items():
        alone = after([row for row in rows if row[0] == student], known, student)
        turned = reversed_[f"{9 - int(student[1:])}"]
        for other in (alone, in_other_order[student], turned):
            assert other.as_bytes() == believed.as_bytes()


@pytest.mark.parametrize("seed", SEEDS)
def test_the_order_of_a_lessons_grades_does_not_matter_to_the_last_bit(seed):
    random, known = np.random.default_rng(seed), fitted()
    rows, moved = random_rows(seed, students=4, lessons=7), []
    for student in sorted({row[0] for row in rows}):
        for lesson in lessons_of(rows, student):
            turn = dict(zip({row[1] for row in lesson}, random.permutation(9), strict=False))
            # a task graded twice keeps its own two in order
            moved += sorted(lesson, key=lambda row: turn[row[1]])
    assert moved != rows
    one, other = replay(log_of(rows), known), replay(log_of(moved), known)
    for student, believed in one.beliefs.items():
        assert other.beliefs[student].as_bytes() == believed.as_bytes()
    told = (
        sorted(zip(map(repr, part), done.log_chance.tolist(), strict=True))
        for part, done in ((rows, one), (moved, other))
    )
    assert next(told) == next(told)


@pytest.mark.parametrize("seed", SEEDS)
def test_later_lessons_change_no_earlier_forecast(seed):
    known, rows = fitted(), random_rows(seed, students=1, lessons=8)
    whole = replay(log_of(rows), known)
    seen = 0
    for lesson in lessons_of(rows, "s0"):
        seen += len(lesson)
        part = replay(log_of(rows[:seen]), known)
        for name in ("mean", "variance", "weight"):
            assert (getattr(part, name) == getattr(whole, name)[:, :seen]).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_forecast_knows_no_grade_of_its_own_lesson(seed):
    known, rows = fitted(), random_rows(seed, students=1, lessons=6)
    first = replay(log_of(rows), known)
    for lesson in {row[3] for row in rows}:
        here = [place for place, row in enumerate(rows) if row[3] == lesson]
        changed = replay(log_of(grades_changed(rows, here)), known)
        until = here[-1] + 1
        for name in ("mean", "variance", "weight"):
            assert (getattr(first, name) == getattr(changed, name))[:, :until].all()
        later = neutral(first, known)[until:], neutral(changed, known)[until:]
        assert (later[0] != later[1]).any() or until == len(rows)


def gains_of_better_grades(known: Parameters, rows: list[Row]) -> tuple[Floats, Flags]:
    """What each grade, were it one better, would add to what is expected of each row.

    [grades below the best, rows] both; where a row is of the same task is told beside it.
    """
    places = [place for place, row in enumerate(rows) if row[5] < 4]
    each = [grades_changed(rows, [place], rows[place][5] + 1) for place in places]
    many = [(f"{at:04}", *row[1:]) for at, one in enumerate([rows, *each]) for row in one]
    expected = neutral(replay(log_of(many), known), known).reshape(-1, len(rows))
    task = np.array([row[1] for row in rows])
    return expected[1:] - expected[0], task[places][:, None] == task


def any_school(random: np.random.Generator, speed: float) -> Parameters:
    """Parameters as schools have them, and beyond."""
    return defaults(
        ability=random.uniform(0.3, 1.0),
        deviation=random.uniform(0.3, 0.9),
        practice=random.uniform(0.15, 0.7),
        rest=random.uniform(0.0, 0.1),
        day=random.uniform(0.0, 0.6),
        retention=random.uniform(30, 150),
        durability=random.uniform(0.0, 0.8),
        carry=random.uniform(0.3, 1.5),
        hold=random.uniform(0.5, 0.93),
        speed=speed,
    )


@pytest.mark.parametrize("lessons", [8, 30])
@pytest.mark.parametrize("seed", range(8))
def test_a_better_grade_lowers_nothing_that_is_expected_later(seed, lessons):
    random, rows = np.random.default_rng(seed), random_rows(seed, students=1, lessons=lessons)
    for known in (defaults(speed=0.0), any_school(random, speed=0.0)):
        assert (gains_of_better_grades(known, rows)[0] >= -1e-12).all()


@pytest.mark.parametrize("seed", range(8))
def test_where_students_learn_at_different_speeds_a_better_grade_lowers_by_a_hair(seed):
    # a better start and the same end speak of a slower learner
    random, rows = np.random.default_rng(seed), random_rows(seed, students=1, lessons=20)
    for known in (defaults(), any_school(random, speed=0.4)):
        gain, own = gains_of_better_grades(known, rows)
        assert (gain[own] >= -0.002).all()
        assert (gain >= -0.01).all()


def test_the_same_grade_from_a_harder_instructor_says_more():
    hands = {"Ben": Hand(-0.6, 1.0, 0.1, 90), "Cleo": Hand(0.6, 1.0, 0.1, 90)}
    known = replace(defaults(), instructors=hands)
    for grade in (1, 2, 3, 4):
        rows = one_task(grade)
        harder = [(*row[:2], "Cleo", *row[3:]) for row in rows]
        easy, hard = (skill(after(one, known), known, ["hover"], 0) for one in (rows, harder))
        assert (hard.weight @ hard.mean > easy.weight @ easy.mean).all()


def test_rest_lowers_a_well_learnt_task_and_makes_it_less_sure():
    known = defaults()
    believed = after(one_task(3, 4, 4, 4, 4), known)
    told = [
        outlooks(skill(believed, known, ["hover"], 4 + days), known)["hover"]
        for days in (0, 10, 40, 160, 640)
    ]
    chances = [one.chance for one in told]
    assert chances == sorted(chances, reverse=True)
    assert chances[-1] < chances[0] - 0.2
    widths = [one.high - one.low for one in told]
    assert widths[:4] == sorted(widths[:4])
    assert [one.idle for one in told] == [0, 10, 40, 160, 640]


def test_no_grade_and_one_and_two():
    known = defaults()
    nothing = replay(log_of([]), known)
    assert (len(nothing.log), nothing.beliefs) == (0, {})
    assert nothing.mean.shape == (NODES, 0)
    one, two = (replay(log_of(one_task(*grades)), known) for grades in ((3,), (3, 4)))
    assert one.beliefs["s0"].attempts.tolist() == [1]
    assert two.beliefs["s0"].attempts.tolist() == [2]
    assert neutral(one, known)[0] == neutral(two, known)[0]
    assert neutral(two, known)[1] > neutral(two, known)[0]


def test_no_newer_grade_leaves_beliefs_as_they_were():
    known = defaults()
    believed = after(one_task(3, 4), known)
    done = advance(log_of([]), known, believed)
    assert (len(done.log), done.beliefs) == (0, {})


def test_two_students_are_not_advanced_at_once():
    with pytest.raises(ValueError, match="one student at a time"):
        advance(log_of(random_rows(0)), defaults(), None)


def test_a_date_missing_or_out_of_order_is_a_day_without_rest():
    known, dated = defaults(), (5.0, 5.0, 5.0)
    here = replay(log_of(one_task(2, 3, 4, days=dated)), known)
    for days in ((NOWHERE, 5.0, NOWHERE), (NOWHERE, NOWHERE, NOWHERE), (9.0, 6.0, 3.0)):
        gone = replay(log_of(one_task(2, 3, 4, days=days)), known)
        assert (gone.mean == here.mean).all()
        assert (gone.variance == here.variance).all()
        assert (gone.beliefs["s0"].offset == here.beliefs["s0"].offset).all()


def test_a_task_flown_twice_in_a_lesson_has_one_forecast():
    known = defaults()
    rows = [
        ("s0", "hover", "Ben", 1, 0.0, 2),
        ("s0", "hover", "Ben", 2, 5.0, 1),
        ("s0", "run-up", "Ben", 2, 5.0, 3),
        ("s0", "hover", "Ben", 2, 5.0, 4),
    ]
    done = replay(log_of(rows), known)
    chance = neutral(done, known)
    assert chance[1] == chance[3]
    assert chance[1] != chance[2]
    assert attempts_before(done).tolist() == [0, 1, 0, 1]
    assert dict(zip(done.beliefs["s0"].tasks, done.beliefs["s0"].attempts, strict=True)) == {
        "hover": 3,
        "run-up": 1,
    }


def test_beliefs_are_kept_exactly():
    for student, believed in replay(log_of(random_rows(3)), fitted(5)).beliefs.items():
        raw = believed.as_bytes()
        again = beliefs_from(believed.tasks, raw, 5)
        assert again.as_bytes() == raw
        for part in (
            "offset",
            "loading",
            "residual",
            "attempts",
            "weight",
            "precision",
            "pull",
        ):
            assert (getattr(again, part) == getattr(believed, part)).all(), (student, part)


def test_beliefs_of_other_tasks_or_speeds_are_refused():
    believed = after(one_task(3, 4), defaults())
    for tasks, nodes in (((), NODES), (("hover", "run-up"), NODES), (("hover",), NODES + 1)):
        with pytest.raises(ValueError, match="other tasks or another number of speeds"):
            beliefs_from(tasks, believed.as_bytes(), nodes)


def test_parameters_are_kept_exactly():
    uneven = replace(fitted(), cuts={"grade": (-1.1, 0.0, 1 / 3), "passed": (0.0,)}, grades=7)
    assert parameters_from(uneven.as_text()) == uneven
    assert parameters_from(defaults().as_text()) == defaults()


def test_a_log_knows_which_row_opens_a_lesson():
    log: GradeLog = log_of([*one_task(1, 2), *one_task(3, task="run-up")])
    assert log.opens.tolist() == [True, True, True]
    kept = log.rows(np.array([False, True, True]))
    assert kept.opens.tolist() == [True, True]
