"""What was known of a student before each lesson."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradebook.analytics.gradetable import day_numbers, in_time
from gradebook.analytics.needle.floats import Flags, Floats, Ints


@dataclass(frozen=True, slots=True, eq=False)
class Earlier:
    """For each row the rows of the same group in earlier lessons.

    In sorted `order` they lie from `start` up to `end`; all of shape (rows,), `start` and `end`
    in the order of the table.
    """

    order: Ints
    start: Ints
    end: Ints

    @property
    def count(self) -> Ints:
        """How many there are."""
        return self.end - self.start

    def total(self, values: Floats | Flags) -> Floats:
        """Sum of a column over them; 0 without any."""
        so_far = self._running(values)
        return so_far[self.end] - so_far[self.start]

    def mean(self, values: Floats | Flags, last: int) -> Floats:
        """Mean over the last few of them; nan without any."""
        so_far, begin = self._running(values), np.maximum(self.start, self.end - last)
        some = np.maximum(self.end - begin, 1)
        return np.where(self.count > 0, (so_far[self.end] - so_far[begin]) / some, np.nan)

    def last(self, values: Floats) -> Floats:
        """Value in the latest of them; nan without any."""
        if not len(values):
            return values
        return np.where(self.count > 0, values[self.order][self.end - 1], np.nan)

    def _running(self, values: Floats | Flags) -> Floats:
        return np.concatenate(([0.0], values[self.order].cumsum(dtype=np.float64)))


def earlier(group: Ints, lesson: Ints, within: Ints) -> Earlier:
    """Rows of earlier lessons by group, all (rows,); `within` sorts the rows of a lesson."""
    order = np.lexsort((within, lesson, group))
    place = np.arange(len(order))
    new_group = np.diff(group[order], prepend=-1) != 0
    new_lesson = new_group | (np.diff(lesson[order], prepend=-1) != 0)
    start, end = np.empty_like(place), np.empty_like(place)
    start[order] = np.maximum.accumulate(np.where(new_group, place, 0))
    end[order] = np.maximum.accumulate(np.where(new_lesson, place, 0))
    return Earlier(order, start, end)


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """Numbers from 0 for the words of a table, and the earlier rows; arrays (rows,).

    `lesson` is the place of the lesson among the student's, `day` counts days and is nan where
    the table has no date. `on_task` are the student's earlier rows of the same task, `at_all`
    those of any task.
    """

    task: Ints
    instructor: Ints
    lesson: Ints
    day: Floats
    grade: Floats
    on_task: Earlier
    at_all: Earlier


def read_history(frame: pd.DataFrame) -> History:
    """The history of a grade table of any number of rows; lessons as `gradetable.in_time`."""
    student, task, instructor = (_codes(frame[name]) for name in _WORDS)
    lesson = _lessons(frame)
    pair = student * (task.max(initial=0) + 1) + task
    return History(
        task=task,
        instructor=instructor,
        lesson=lesson,
        day=day_numbers(frame),
        grade=frame["grade"].to_numpy(np.float64),
        on_task=earlier(pair, lesson, within=task),
        at_all=earlier(student, lesson, within=task),
    )


_WORDS = "student", "task", "instructor"


def _codes(words: "pd.Series[str]") -> Ints:
    return pd.factorize(words, sort=True)[0].astype(np.int64)


def _lessons(frame: pd.DataFrame) -> Ints:
    """Place of each row's lesson among those of its student, from 1."""
    order = in_time(frame)
    keys = frame[["student", "lesson"]].iloc[order].astype(str)
    found = np.empty(len(frame), dtype=np.int64)
    found[order] = keys.groupby(["student", "lesson"], sort=False).ngroup()
    ranks = pd.Series(found).groupby(frame["student"].to_numpy()).rank("dense")
    return ranks.to_numpy(np.int64)
