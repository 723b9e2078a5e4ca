"""Attempts to proficiency by task, and proof that failed at the stage check."""

import pytest
from statsmodels.stats.proportion import proportion_confint

from gradebook.analytics.progress import failed_proofs, times_to_proficiency

TASKS = ["hover"] * 6 + ["run-up"] * 2
ATTEMPTS = [3, 5, 5, 8, 9, 9, 2, 2]
PROVEN = [1, 1, 1, 1, 0, 0, 1, 1]


def test_the_median_counts_students_still_training():
    hover, run_up = times_to_proficiency(TASKS, ATTEMPTS, PROVEN, {"hover": 4})
    assert (hover.task, hover.students, hover.proficient) == ("hover", 6, 4)
    assert hover.median.value == 5  # shares 5/6, 1/2, 1/3, by hand
    assert hover.excess == 1
    assert hover.waiting.value == pytest.approx(5 / 6)
    assert hover.waiting.low < 5 / 6 < hover.waiting.high
    assert hover.few
    assert (run_up.median.value, run_up.planned, run_up.excess) == (2, None, None)
    assert run_up.waiting.why == "The syllabus plans no number of attempts."


def test_a_median_nobody_reached_is_none():
    (found,) = times_to_proficiency(["hover"] * 3, [4, 6, 9], [1, 0, 0], {"hover": 4})
    assert (found.median.value, found.excess) == (None, None)
    assert found.waiting.value == pytest.approx(2 / 3)


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
