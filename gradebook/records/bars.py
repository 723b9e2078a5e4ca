"""How often one task met its target, with every grade of it. Pure."""

from dataclasses import dataclass

from gradebook import formats
from gradebook.analytics.intervals import wilson
from gradebook.records import progress
from gradebook.records.values import History
from syllabus.course import Course, Task


@dataclass(frozen=True, slots=True)
class Bar:
    """One task: `met` of `n` counted grades at target, with the 95 % Wilson interval."""

    task: Task
    met: int
    n: int
    low: float
    high: float
    series: tuple[progress.SeriesPoint, ...]

    @property
    def points(self) -> list[tuple[str, int | None]]:
        """(day, rank) of every grade, oldest first."""
        return [(formats.day(point.on), point.rank) for point in self.series]

    @property
    def scale(self) -> list[tuple[int, str]]:
        """(rank, words) of the levels, lowest first."""
        return [(level.rank, level.words) for level in self.task.scale.levels]

    @property
    def standard(self) -> int:
        """Rank of the first level that meets the standard."""
        return self.task.scale.level(self.task.scale.standard).rank

    @property
    def last(self) -> float | None:
        """Where the last counted grade stands, 0 the lowest level and 1 the highest."""
        ranks = [point.rank for point in self.series if point.rank is not None]
        levels = [rank for rank, _ in self.scale]
        if not ranks or len(levels) < 2:
            return None
        return (ranks[-1] - levels[0]) / (levels[-1] - levels[0])


def bars(course: Course, history: History) -> list[Bar]:
    """The bar of every task graded so far, in flow order."""
    return [one for task in course.tasks if (one := bar(history, task)).n]


def bar(history: History, task: Task) -> Bar:
    """The bar of one task."""
    series = progress.task_series(history, task.code)
    counted = [point for point in series if point.rank is not None]
    met = sum(point.met is True for point in counted)
    low, high = wilson(met, len(counted))
    return Bar(task, met, len(counted), low=low, high=high, series=series)
