"""What the attempts prove: errors per opportunity, and the score of the sequential test."""

from collections.abc import Sequence
from itertools import accumulate

from markupsafe import Markup

from gradebook.formats import share
from gradebook.pictures import findings
from gradebook.pictures.plane import LINE, PERCENT, Plane, chart, said_at, words
from gradebook.pictures.series import Opportunity, ScoreRun, Spot
from gradebook.pictures.svg import element
from syllabus.saying import figure, say

HEIGHT = 160
MOST = 30
"""Only so many opportunities are drawn, the newest; the words still count them all."""


def run_chart(
    opportunities: Sequence[Opportunity], target: float, window: int = 5, unit: str = "attempt"
) -> Markup:
    """Errors per opportunity: the share over the last few, over a row of single marks.

    Parameters
    ----------
    opportunities
        Oldest first, any number. A filled square is an error, an open one was clean.
    target
        The share 0-1 the error must stay below.
    window
        Over how many opportunities the line counts; it begins with the first full window.
    unit
        What `at` counts; days need none.
    """
    drawn = list(opportunities[-MOST:])
    plane = Plane((1, max(2, len(drawn))), (0, 1), bottom=HEIGHT - 2 * LINE - 10)
    lane = Plane(plane.across, (0, 1), bottom=HEIGHT - LINE - 6)
    parts = [
        *plane.rungs(PERCENT),
        plane.caption(
            say(
                "errors, share of the last {window}; target below {share}",
                window=window,
                share=share(target),
            )
        ),
        *plane.target(target),
        *plane.line(rates(drawn, window), "chart-line"),
        *_marks(lane, drawn),
        *_ends(lane, [one.at for one in drawn], unit),
    ]
    if not drawn:
        parts.append(plane.message(say("no opportunity yet")))
    return chart(HEIGHT, findings.run(opportunities, target, window), parts)


def rates(opportunities: Sequence[Opportunity], window: int) -> list[tuple[Spot, float]]:
    """(place from 1, share with the error in the window that ends there)."""
    errors = [one.error for one in opportunities]
    ends = range(window, len(errors) + 1)
    return [(end, sum(errors[end - window : end]) / window) for end in ends]


def _marks(lane: Plane, drawn: Sequence[Opportunity]) -> list[Markup]:
    y = lane.bottom - 10
    names = ("chart-error" if one.error else "chart-clean" for one in drawn)
    return [
        element("rect", class_=name, x=lane.x(at) - 3, y=y, width=6, height=8)
        for at, name in enumerate(names, start=1)
    ]


def _ends(lane: Plane, spots: Sequence[Spot], unit: str) -> list[Markup]:
    """The words under the first and the last mark; the marks stand evenly, days do not."""
    if len(spots) != 1:
        return lane.feet(spots, unit)
    return [words(said_at(spots[0]), (lane.left, lane.bottom + LINE), "start")]


def proof_chart(runs: Sequence[ScoreRun]) -> Markup:
    """The score rising to its decision line; after the proof, the relapse score falling to its.

    Runs alternate, the first is towards proof; none, or an empty one, is no attempt yet. The
    scale has the line of each test at the same distance from 0, marked with its value.
    """
    attempts = sum(len(run.scores) for run in runs)
    falling = any(run.scores for run in runs[1::2])
    height = HEIGHT + 30 if falling else HEIGHT
    scale = (-1.1 if falling else 0.0, 1.1)
    plane = Plane((0, attempts), scale, height - LINE - 6, top=34)
    parts = [*plane.rungs([(0, "0")]), plane.caption(say("score of the test"))]
    if runs:
        parts += _decision(plane, 1, runs[0].threshold, say("enough evidence"))
    if falling:
        parts += _decision(plane, -1, runs[1].threshold, say("relapse"))
    for at, (start, run) in enumerate(begun(runs)):
        parts += _score(plane, run, start, -1 if at % 2 else 1)
    parts += (
        plane.feet([0, attempts], "attempt")
        if attempts
        else [plane.message(say("no attempt yet"))]
    )
    return chart(height, findings.proof(runs), parts)


def begun(runs: Sequence[ScoreRun]) -> list[tuple[int, ScoreRun]]:
    """Each run with the number of attempts before it."""
    starts = accumulate((len(run.scores) for run in runs), initial=0)
    return list(zip(starts, runs, strict=False))


def scaled(run: ScoreRun, start: int, sign: int) -> list[tuple[Spot, float]]:
    """(attempt, score as a share of its line), from 0 before the first of the run."""
    shares = [0.0, *(sign * score / run.threshold for score in run.scores)]
    return list(enumerate(shares, start=start))


def _decision(plane: Plane, level: float, threshold: float, said: str) -> list[Markup]:
    value = words(figure(f"{threshold:.2f}"), (plane.left - 5, plane.y(level) + 4), "end")
    return [*plane.target(level, said), value]


def _score(plane: Plane, run: ScoreRun, start: int, sign: int) -> list[Markup]:
    points = scaled(run, start, sign)
    drawn = plane.line(points, "chart-line" if sign > 0 else "chart-fall")
    if run.reached:
        spot, value = points[-1]
        drawn.append(plane.upright(spot, "chart-turn"))
        drawn.append(plane.disc(spot, value, "chart-met" if sign > 0 else "chart-alarm", 4))
    return drawn
