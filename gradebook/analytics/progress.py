"""Where a syllabus holds students up: attempts to proficiency, and proof that failed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from gradebook.analytics.discoveries import benjamini_hochberg
from gradebook.analytics.estimate import Estimate
from gradebook.analytics.intervals import wilson
from gradebook.analytics.survival import LogRank, kaplan_meier, log_rank

FALSE_DISCOVERIES = 0.05
HALF = 0.5 + 1e-12


@dataclass(frozen=True, slots=True)
class TimeToProficiency:
    """One task: how many attempts students need, those still training counted as such.

    `median` in attempts, None while half of the students are not proficient. `waiting` is the
    share not yet proficient after the `planned` attempts (None without a plan). `few`: fewer
    than ten students have become proficient.
    """

    task: str
    students: int
    proficient: int
    planned: int | None
    median: Estimate
    waiting: Estimate
    few: bool

    @property
    def is_slow(self) -> bool:
        """Whether half are not proficient after the planned attempts, however long they take.

        So where the median is more than planned, and where nobody can say yet how much more.
        """
        return self.waiting.value is not None and self.waiting.value > HALF


def times_to_proficiency(
    tasks: Sequence[str],
    attempts: ArrayLike,
    proficient: ArrayLike,
    planned: Mapping[str, int] | None = None,
) -> tuple[TimeToProficiency, ...]:
    """Attempts to proficiency of every task, by task name (Kaplan-Meier).

    Parameters
    ----------
    tasks : sequence of str, length n
        One entry per student and task.
    attempts : array, shape (n,)
        Graded attempts until proficiency, or so far.
    proficient : array of bool, shape (n,)
        Whether proficiency was reached; who left or is still training has not.
    planned : mapping of task to attempts, optional
        What the syllabus allows for; a task may be missing.

    Raises
    ------
    ValueError
        Sequences of different length, negative attempts.
    """
    task, count, event = (
        np.array(tasks, str),
        np.asarray(attempts),
        np.asarray(proficient, bool),
    )
    if not task.shape == count.shape == event.shape:
        raise ValueError("Every task needs its attempts and whether it was reached.")
    plan = planned or {}
    return tuple(
        _time(str(name), count[task == name], event[task == name], plan.get(str(name)))
        for name in np.unique(task)
    )


def _time(
    task: str, attempts: ArrayLike, proficient: ArrayLike, planned: int | None
) -> TimeToProficiency:
    curve = kaplan_meier(attempts, proficient)
    no_plan = Estimate(None, why="The syllabus plans no number of attempts.")
    return TimeToProficiency(
        task=task,
        students=curve.n,
        proficient=curve.total,
        planned=planned,
        median=curve.median,
        waiting=no_plan if planned is None else curve.share_at(planned),
        few=curve.few,
    )


@dataclass(frozen=True, slots=True)
class FailedProof:
    """One task: students proven before their first stage check, and how many failed it there.

    `low` and `high` are the 95 % Wilson interval of the share.
    """

    task: str
    failed: int
    proven: int
    low: float
    high: float


def failed_proofs(
    tasks: Sequence[str], proven: ArrayLike, failed: ArrayLike
) -> tuple[FailedProof, ...]:
    """Tasks that were proven in training and failed at the first stage check, worst first.

    Worst is the highest lower end of the interval, so that one failure of one comes below nine
    of twelve. Tasks that nobody had proven are left out.

    Parameters
    ----------
    tasks : sequence of str, length n
        One entry per student and task: the first stage check that graded it.
    proven : array of bool, shape (n,)
        Whether proficiency was proven before that check.
    failed : array of bool, shape (n,)
        Whether the check's grade lay below the standard.

    Raises
    ------
    ValueError
        Sequences of different length.
    """
    task, before, below = (
        np.array(tasks, str),
        np.asarray(proven, bool),
        np.asarray(failed, bool),
    )
    if not task.shape == before.shape == below.shape:
        raise ValueError("Every task needs whether it was proven and whether it failed.")
    found = []
    for name in np.unique(task[before]):
        here = before & (task == name)
        k, n = int(below[here].sum()), int(here.sum())
        low, high = wilson(k, n)
        found.append(FailedProof(str(name), k, n, low=low, high=high))
    return tuple(sorted(found, key=lambda one: (-one.low, one.task)))


@dataclass(frozen=True, slots=True)
class Comparison:
    """One task in several groups of students, such as those of two revisions of a course.

    `test` is the log-rank test of attempts to proficiency, `corrected` its p corrected for all
    tasks compared; None where the task cannot be tested or has fewer than ten events.
    """

    task: str
    test: LogRank
    corrected: float | None = None

    @property
    def clear(self) -> bool:
        """Whether the groups differ by more than chance over all tasks."""
        return self.corrected is not None and self.corrected <= FALSE_DISCOVERIES


def compare_times(
    tasks: Sequence[str], attempts: ArrayLike, proficient: ArrayLike, groups: Sequence[str]
) -> tuple[Comparison, ...]:
    """Do groups need as many attempts to proficiency; every task of two groups or more.

    The clearest difference first, then by name. Parameters as `times_to_proficiency`, with the
    group of each entry; p-values corrected by Benjamini and Hochberg. ValueError for sequences
    of different length.
    """
    task, group = np.array(tasks, str), np.array(groups, str)
    count, event = np.asarray(attempts, float), np.asarray(proficient, bool)
    if not task.shape == group.shape == count.shape == event.shape:
        raise ValueError("Every task needs its attempts, whether it was reached, and a group.")
    found = []
    for name in np.unique(task):
        here = task == name
        if len(np.unique(group[here])) > 1:
            found.append(Comparison(str(name), log_rank(count[here], event[here], group[here])))
    tested = [one.test.p for one in found if one.test.p is not None and not one.test.few]
    corrected = iter(benjamini_hochberg(tested).tolist())
    told = [
        one
        if one.test.p is None or one.test.few
        else replace(one, corrected=float(next(corrected)))
        for one in found
    ]
    return tuple(sorted(told, key=_clearness))


def _clearness(one: Comparison) -> tuple[float, float, str]:
    p = one.test.p if one.test.p is not None and not one.test.few else 2.0
    return (2.0 if one.corrected is None else one.corrected), p, one.task
