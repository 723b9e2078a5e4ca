"""One student's one task: where the needle went, which errors recur, how far proof has come."""

from collections.abc import Sequence
from datetime import date
from functools import partial

from gradebook.analytics.needle.outlook import FEWEST, Outlook
from gradebook.analytics.proof import follow, proof_plan
from gradebook.charts.chart import Chart
from gradebook.formats import count
from gradebook.pictures import figures, findings, numbers
from gradebook.pictures.evidence import proof_chart, run_chart
from gradebook.pictures.progress import trend_band
from gradebook.pictures.series import Opportunity, ScoreRun, TrendPoint
from gradebook.records.store.standing import Standing
from gradebook.records.trail import TrailPoint, trail
from gradebook.records.values import GradeFact
from gradebook.records.watchitems import WatchRules, chances
from syllabus.course import Task
from syllabus.saying import joined, say

MOST_ERRORS = 4
"""Only so many errors get a chart of their own: watched ones first, then the most marked."""


def task_charts(state: Standing, task: Task) -> tuple[Chart, ...]:
    """Every chart of one student's task; none before its first counted grade."""
    if not any(grade.rank is not None for grade in _grades(state, task)):
        return ()
    points = trail(state.trail, task.code)
    now = state.needle.outlooks.get(task.code)
    return (trend(points, now, state.on), proof(points), *errors(state, task))


def _grades(state: Standing, task: Task) -> list[GradeFact]:
    found = (fact.grade(task.code) for fact in state.history)
    return [grade for grade in found if grade is not None]


def trend(flown: Sequence[TrailPoint], now: Outlook | None, on: date) -> Chart:
    """The chance before each lesson, the grade given, and the chance today.

    A chance with fewer than `FEWEST` grades behind it is not shown.
    """
    points = [
        TrendPoint(one.on, one.chance if at >= FEWEST else None, one.low, one.high, one.met)
        for at, one in enumerate(flown)
    ]
    if now is not None and now.attempts:
        chance = None if now.few else now.chance
        points.append(TrendPoint(on, chance, low=now.low, high=now.high))
    n = sum(point.met is not None for point in points)
    return Chart(
        "trend",
        findings.trend(points),
        count(n, "counted grade"),
        trend_band(points),
        numbers.trend(points),
        partial(figures.trend_figure, points),
        why=(
            say(
                "Each point is the chance an instructor of average severity would have "
                "given this task the standard that day, worked out from the lessons "
                "before it alone; the band holds it with 80 % confidence, from the third "
                "grade on. Discs at the top met the standard, at the bottom not. The "
                "last point is today."
            )
        ),
    )


def proof(flown: Sequence[TrailPoint]) -> Chart:
    """The score that climbs to proof, and after it watches for a relapse.

    Over every counted grade but the first, which is teaching.
    """
    found = follow([one.met for one in flown[1:]], proof_plan())
    runs = [ScoreRun(run.scores, run.threshold, run.signal is not None) for run in found.runs]
    return Chart(
        "proof",
        found.finding,
        say("{attempts} after the first", attempts=count(max(0, len(flown) - 1), "attempt")),
        proof_chart(runs),
        numbers.proof(runs),
        partial(figures.proof_figure, runs),
        why=found.plan.claim,
    )


def errors(state: Standing, task: Task) -> tuple[Chart, ...]:
    """One run chart for each error marked, watched errors first."""
    seen = chances(state.history).get(task.code, [])
    counted: dict[str, int] = {}
    for _, marked in seen:
        for error in marked:
            counted[error] = counted.get(error, 0) + 1
    watched = {item.error for item in state.open_watch if item.task == task.code}
    order = sorted(counted, key=lambda error: (error not in watched, -counted[error], error))
    return tuple(_error(state, task, error) for error in order[:MOST_ERRORS])


def _error(state: Standing, task: Task, error: str) -> Chart:
    seen = chances(state.history)[task.code]
    points = [Opportunity(fact.flown_on, error in marked) for fact, marked in seen]
    target = WatchRules().target
    return Chart(
        f"error-{error.lower()}",
        joined(": ", (task.error(error).words, findings.run(points, target))),
        count(len(points), "lesson"),
        run_chart(points, target),
        numbers.run(points),
        partial(figures.run_figure, points, target),
        why=(
            say(
                "One square for each lesson in which the task was flown, filled where "
                "the error was marked; the line is the share of the last five."
            )
        ),
    )
