"""Two revisions of a course side by side: attempts to proficiency, task by task."""

from collections.abc import Mapping, Sequence
from functools import partial

import numpy as np

from gradebook.analytics.progress import Comparison, compare_times
from gradebook.analytics.survival import Survival, kaplan_meier
from gradebook.charts.chart import Chart
from gradebook.formats import count
from gradebook.pictures import figures
from gradebook.pictures.numbers import Numbers
from gradebook.pictures.school import survival_steps
from gradebook.pictures.series import SurvivalCurve
from gradebook.records.attempts import TaskAttempts
from syllabus.course import Course
from syllabus.saying import joined, say, say_n

Groups = Mapping[str, Sequence[TaskAttempts]]
"""The attempts of the students of each revision, by its words, the older first."""


def revisions(course: Course, groups: Groups) -> Chart | None:
    """Where the newer revision is quicker or slower; None without a task taught in both.

    `course` gives the tasks their titles; tasks it does not know are left out. Draws the task
    that differs most.
    """
    entries = [
        (words, one)
        for words, attempts in groups.items()
        for one in attempts
        if one.task in course.task_by_code
    ]
    compared = compare_times(
        [one.task for _, one in entries],
        np.array([one.attempts for _, one in entries], float),
        np.array([one.proficient for _, one in entries], bool),
        [words for words, _ in entries],
    )
    if not compared:
        return None
    drawn = compared[0].task
    curves = [_curve(words, _of(attempts, drawn)) for words, attempts in groups.items()]
    students = len({one.student_id for _, one in entries})
    return Chart(
        "revisions",
        _finding(course, compared, groups),
        say(
            "{students}, {tasks} in both",
            students=count(students, "student"),
            tasks=count(len(compared), "task"),
        ),
        survival_steps(curves, "attempt"),
        _numbers(course, compared, groups),
        partial(figures.survival_figure, curves, "attempt"),
        why=(
            say(
                "Drawn is {title}, the task that differs most: the share of students not "
                "yet proficient by attempt, with 95 % bands (Kaplan and Meier). Each "
                "task is held against chance by the log-rank test, corrected for all "
                "tasks compared (Benjamini and Hochberg, 5 %); under ten proficient "
                "students a task is not tested. Other things than the syllabus may have "
                "changed with it.",
                title=course.task_by_code[drawn].title,
            )
        ),
    )


def _of(attempts: Sequence[TaskAttempts], task: str) -> Survival:
    mine = [one for one in attempts if one.task == task]
    return kaplan_meier(
        np.array([one.attempts for one in mine], float),
        np.array([one.proficient for one in mine], bool),
    )


def _curve(words: str, found: Survival) -> SurvivalCurve:
    times, share = found.times.tolist(), found.share.tolist()
    return SurvivalCurve(
        words,
        found.n,
        found.followed,
        times,
        share,
        at_risk=[int(one) for one in found.at_risk],
        lows=found.low.tolist(),
        highs=found.high.tolist(),
    )


def _finding(course: Course, compared: Sequence[Comparison], groups: Groups) -> str:
    older, newer = list(groups)
    clear = [one for one in compared if one.clear]
    tested = count(sum(one.corrected is not None for one in compared), "task")
    values = {"newer": newer, "older": older, "tested": tested}
    if not clear:
        return say(
            "No task takes clearly more or fewer attempts in {newer} than in {older} "
            "({tested} tested)",
            **values,
        )
    parts = [
        say_n(
            "{titles} takes {how} attempts",
            "{titles} take {how} attempts",
            len(titles),
            titles=", ".join(titles),
            how=say(how),
        )
        for how in ("more", "fewer")
        if (titles := [_title(course, one) for one in clear if _way(one, newer) == how])
    ]
    told = joined(say(" and "), parts)
    return say("In {newer} {told} than in {older} ({tested} tested)", told=told, **values)


def _title(course: Course, one: Comparison) -> str:
    return course.task_by_code[one.task].title


def _way(one: Comparison, newer: str) -> str:
    """Whether the newer revision takes more or fewer attempts than if both were alike."""
    at = one.test.groups.index(newer)
    return "fewer" if one.test.observed[at] > one.test.expected[at] else "more"


def _numbers(course: Course, compared: Sequence[Comparison], groups: Groups) -> Numbers:
    each = [
        joined(": ", (words, what))
        for words in groups
        for what in (say("students"), say("proficient"), say("median attempts"))
    ]
    columns = (
        say("Task"),
        *each,
        say("Log-rank p"),
        say("Corrected p"),
        say("Clearly different"),
    )
    return Numbers(columns, tuple(_row(course, one, groups) for one in compared))


def _row(course: Course, one: Comparison, groups: Groups) -> tuple[str, ...]:
    cells = [_title(course, one)]
    for attempts in groups.values():
        found = _of(attempts, one.task)
        median = found.median.value
        cells += [str(found.n), str(found.total), "" if median is None else f"{median:g}"]
    if one.corrected is None:
        return (*cells, "", "", say("too few"))
    return (
        *cells,
        f"{one.test.p:.4f}",
        f"{one.corrected:.4f}",
        say("yes") if one.clear else say("no"),
    )
