"""Attempts to proficiency by task, and proof that failed at the stage check."""

import numpy as np
import pytest
from scipy.stats import false_discovery_control
from statsmodels.stats.proportion import proportion_confint

from gradebook.analytics.progress import compare_times, failed_proofs, times_to_proficiency
from gradebook.analytics.survival import log_rank

TASKS = ["hover"] * 6 + ["run-up"] * 2
ATTEMPTS = [3, 5, 5, 8, 9, 9, 2, 2]
PROVEN = [1, 1, 1, 1, 0, 0, 1, 1]


def test_the_median_counts_students_still_training():
    hover, run_up = times_to_proficiency(TASKS, ATTEMPTS, PROVEN, {"hover": 4})
    assert (hover.task, hover.students, hover.proficient) == ("hover", 6, 4)
    assert hover.median.value == 5  # shares 5/6, 1/2, 1/3, by hand
    assert hover.is_slow
    assert hover.waiting.value == pytest.approx(5 / 6)
    assert hover.waiting.low < 5 / 6 < hover.waiting.high
    assert hover.few
    assert (run_up.median.value, run_up.planned, run_up.is_slow) == (2, None, False)
    assert run_up.waiting.why == "The syllabus plans no number of attempts."


def test_a_median_nobody_reached_is_none():
    (found,) = times_to_proficiency(["hover"] * 3, [4, 6, 9], [1, 0, 0], {"hover": 4})
    assert (found.median.value, found.is_slow) == (None, True)
    assert found.waiting.value == pytest.approx(2 / 3)


@pytest.mark.parametrize(("planned", "slow"), [(4, True), (5, False), (9, False)])
def test_a_task_is_slow_while_half_need_more_than_planned(planned: int, slow: bool):
    # Shares not proficient after 4, 5 and 9 attempts: 5/6, 1/2 and 1/3, by hand.
    hover, _ = times_to_proficiency(TASKS, ATTEMPTS, PROVEN, {"hover": planned})
    assert hover.is_slow is slow


def test_a_plan_beyond_all_who_train_says_so():
    (found,) = times_to_proficiency(["hover"], [2], [0], {"hover": 5})
    assert (found.waiting.value, found.few) == (None, True)
    assert found.waiting.why


def test_ten_proficient_students_are_not_few():
    (found,) = times_to_proficiency(["hover"] * 10, range(1, 11), [1] * 10)
    assert (found.few, found.median.value) == (False, 5)


def test_no_students_no_times():
    assert times_to_proficiency([], [], []) == ()


def test_a_task_without_its_attempts_is_refused():
    with pytest.raises(ValueError, match="attempts"):
        times_to_proficiency(["hover"], [], [1])


def test_proof_that_failed_is_counted_among_the_proven_only():
    tasks = ["hover"] * 12 + ["run-up", "taxi", "taxi"]
    proven = [1] * 10 + [0, 0] + [1, 1, 1]
    failed = [1] * 6 + [0] * 4 + [1, 1] + [1, 0, 0]
    hover, run_up, taxi = failed_proofs(tasks, proven, failed)
    assert (hover.task, hover.failed, hover.proven) == ("hover", 6, 10)
    expected = proportion_confint(6, 10, method="wilson")
    assert (hover.low, hover.high) == pytest.approx(expected)
    assert (run_up.task, run_up.failed, run_up.proven) == ("run-up", 1, 1)
    assert (taxi.task, taxi.failed, taxi.proven, taxi.low) == ("taxi", 0, 2, 0)


def test_tasks_nobody_had_proven_are_left_out():
    assert failed_proofs(["hover"], [0], [1]) == ()
    assert failed_proofs([], [], []) == ()


def test_a_task_without_its_check_is_refused():
    with pytest.raises(ValueError, match="proven"):
        failed_proofs(["hover"], [1], [])


def entries(seed: int, tasks: int = 5, n: int = 40):
    """Attempts in some tasks of students in two groups; task t0 takes the second longer."""
    random = np.random.default_rng(seed)
    task = np.repeat([f"t{at}" for at in range(tasks)], n)
    group = np.tile(["new", "old"], tasks * n // 2)
    longer = 4 * ((task == "t0") & (group == "new"))
    return (
        task,
        random.integers(1, 8, len(task)) + longer,
        random.random(len(task)) < 0.8,
        group,
    )


@pytest.mark.parametrize("seed", range(5))
def test_groups_are_compared_task_by_task_and_p_corrected_over_all(seed):
    task, attempts, done, group = entries(seed)
    found = compare_times(task, attempts, done, group)
    by_name = {one.task: one for one in found}
    plain = []
    for name in sorted(by_name):
        here = task == name
        # the test itself is held against statsmodels in test_survival
        known = log_rank(attempts[here], done[here], group[here])
        assert by_name[name].test == known
        plain.append(known.p)
    corrected = false_discovery_control(plain)  # computed with scipy
    assert [by_name[name].corrected for name in sorted(by_name)] == pytest.approx(corrected)
    assert found[0].task == "t0"
    assert found[0].clear


def test_a_task_of_one_group_or_of_few_proficient_is_not_tested():
    task = ["alone"] * 12 + ["few"] * 12
    group = ["old"] * 12 + ["old", "new"] * 6
    done = [True] * 12 + [True] * 9 + [False] * 3
    (one,) = compare_times(task, [3] * 12 + [1, 9] * 6, done, group)
    assert (one.task, one.corrected, one.clear, one.test.few) == ("few", None, False, True)
    assert compare_times([], [], [], []) == ()
    with pytest.raises(ValueError, match="a group"):
        compare_times(["hover"], [1], [True], [])
