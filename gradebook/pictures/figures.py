"""The same charts as plotly figures, for a page of their own: JSON text, not drawn here.

Colours are written as `var(--token)`, or `var(--token, 0.3)` for a share of it; the script of
the page fills in what the style sheet gives them. Only scatter traces are used: they draw
without `eval`, under the policy of the other pages. Names are escaped, for plotly reads tags.
"""

from collections.abc import Sequence
from html import escape
from typing import Any

from markupsafe import Markup
from plotly import graph_objects as go

from gradebook.pictures.arcs import GREEN_FROM
from gradebook.pictures.evidence import begun, rates, scaled
from gradebook.pictures.progress import CHANCE
from gradebook.pictures.school import band, steps
from gradebook.pictures.series import (
    SEVERITY,
    CohortBand,
    ForecastBin,
    Gauge,
    Opportunity,
    ScoreRun,
    SeverityRow,
    Spot,
    SurvivalCurve,
    TrendPoint,
    by_clearness,
)
from gradebook.words import spoken
from syllabus.saying import figure as number
from syllabus.saying import say

INK, EDGE, RED, GREEN = "var(--ink)", "var(--edge)", "var(--red)", "var(--green)"
PAPER, RULE, SIGNAL, DIM = "var(--paper)", "var(--rule)", "var(--signal-ink)", "var(--dim)"
PALE = "var(--edge, 0.26)"
SHARES = {"tickformat": ".0%", "range": [-0.04, 1.04]}
STROKES = ((INK, "solid"), (SIGNAL, "dash"), (DIM, "dot"))

Values = Sequence[Any]


def _line(x: Values, y: Values, name: str, **line: object) -> go.Scatter:
    drawn = {"color": INK, "width": 2, **line}
    return go.Scatter(x=list(x), y=list(y), name=spoken(name), mode="lines", line=drawn)


def _marks(x: Values, y: Values, name: str, **marker: object) -> go.Scatter:
    drawn = {"color": INK, "size": 9, **marker}
    drawn["line"] = {"color": drawn["color"], "width": 2}
    return go.Scatter(
        x=list(x), y=list(y), name=spoken(name), mode="markers", marker=drawn, cliponaxis=False
    )


def _ribbon(x: Values, low: Values, high: Values, name: str) -> list[go.Scatter]:
    """The area between two lines that are not drawn; the legend names it once."""
    none = {"color": PALE, "width": 0}
    name = str(spoken(name))
    ends = {"x": list(x), "name": name, "mode": "lines", "line": none, "legendgroup": name}
    return [
        go.Scatter(y=list(low), showlegend=False, **ends),
        go.Scatter(y=list(high), fill="tonexty", fillcolor=PALE, **ends),
    ]


def _text(
    traces: Sequence[go.Scatter],
    x: dict[str, Any],
    y: dict[str, Any],
    annotations: Sequence[dict[str, object]] = (),
) -> Markup:
    """A figure of these traces as JSON that can stand inside a script element."""
    axis = {"gridcolor": RULE, "linecolor": EDGE, "zerolinecolor": EDGE, "automargin": True}
    figure = go.Figure(
        list(traces),
        {
            "template": "none",
            "paper_bgcolor": PAPER,
            "plot_bgcolor": PAPER,
            "font": {"color": INK, "size": 14},
            "xaxis": axis | x,
            "yaxis": axis | y,
            "annotations": list(annotations),
            "hovermode": "closest",
            "hoverlabel": {"bgcolor": PAPER, "bordercolor": INK, "font": {"color": INK}},
            "modebar": {"bgcolor": PAPER, "color": DIM, "activecolor": INK},
            "legend": {"orientation": "h", "yref": "container", "y": 0, "yanchor": "bottom"},
            "margin": {"t": 40, "r": 12, "b": 40, "l": 40},
        },
    )
    text = figure.to_json().replace("&", r"\u0026").replace("<", r"\u003c")
    return Markup(text.replace(">", r"\u003e"))  # noqa: S704 - nothing that ends a script is left


def _spots(spots: Sequence[Spot], unit: str) -> dict[str, Any]:
    counted = not spots or isinstance(spots[0], int | float)
    return _title(say(unit) if counted else say("date"))


def _title(words: str, **more: object) -> dict[str, Any]:
    return {"title": {"text": spoken(words)}, **more}


def _level(value: float, x: Values, name: str, colour: str = EDGE) -> go.Scatter:
    """A dashed level over the whole of x."""
    ends = [x[0], x[-1]] if x else []
    return _line(ends, [value] * len(ends), name, color=colour, dash="dash")


def trend_figure(
    points: Sequence[TrendPoint], band: float = GREEN_FROM, unit: str = "attempt"
) -> Markup:
    """The chance of meeting the standard in its interval, over the grades given."""
    known = [point for point in points if point.chance is not None]
    at = [point.at for point in known]
    met = [point.at for point in points if point.met]
    short = [point.at for point in points if point.met is False]
    spots = [point.at for point in points]
    traces = [
        *_ribbon(at, [p.low for p in known], [p.high for p in known], say("80 % interval")),
        _level(band, spots, say("green band from here"), GREEN),
        _line(at, [point.chance for point in known], CHANCE),
        _marks(met, [1] * len(met), say("grade met the standard")),
        _marks(short, [0] * len(short), say("grade did not"), symbol="circle-open"),
    ]
    return _text(traces, _spots(spots, unit), _title(say("chance"), **SHARES))


def run_figure(
    opportunities: Sequence[Opportunity], target: float, window: int = 5, unit: str = "attempt"
) -> Markup:
    """Every opportunity, and the share with the error over the last few."""
    spots = [one.at for one in opportunities]
    errors = [one.at for one in opportunities if one.error]
    clean = [one.at for one in opportunities if not one.error]
    running = rates(opportunities, window)
    ends = [spots[window - 1 + at] for at in range(len(running))]
    traces = [
        _level(target, spots, say("target: below this")),
        _line(ends, [value for _, value in running], say("share of the last {n}", n=window)),
        _marks(errors, [1] * len(errors), say("error"), symbol="square", color=RED),
        _marks(clean, [0] * len(clean), say("clean"), symbol="square-open"),
    ]
    return _text(traces, _spots(spots, unit), _title(say("errors, share"), **SHARES))


def proof_figure(runs: Sequence[ScoreRun]) -> Markup:
    """The score of the test for proof, and after it the relapse score, downward."""
    attempts = [0, sum(len(run.scores) for run in runs)]
    traces = [
        _level(
            sign,
            attempts,
            say("{name}: {value}", name=name, value=number(f"{run.threshold:.2f}")),
        )
        for run, sign, name in zip(
            runs, (1, -1), (say("enough evidence"), say("relapse")), strict=False
        )
    ]
    for turn, (start, run) in enumerate(begun(runs)):
        sign = -1 if turn % 2 else 1
        x, y = zip(*scaled(run, start, sign), strict=True)
        name = say("score towards proof") if sign > 0 else say("score towards relapse")
        traces.append(_line(x, y, name, color=INK if sign > 0 else SIGNAL))
        traces[-1].showlegend = turn < 2
    return _text(
        traces,
        _title(say("attempt")),
        _title(say("score, share of its line"), tickformat=".0%"),
    )


def severity_figure(rows: Sequence[SeverityRow], gauge: Gauge = SEVERITY) -> Markup:
    """Each instructor on a gauge with the 80 % interval thick and the 95 % one thin."""
    ordered = by_clearness(rows)
    places = list(range(len(ordered)))
    wide = [(row.low95, row.high95) for row in ordered]
    narrow = [(row.low, row.high) for row in ordered]
    symbols = ["circle" if row.clear else "circle-open" for row in ordered]
    names = [f"{row.name} (n = {row.n})" for row in ordered]
    values = [row.value for row in ordered]
    traces = [
        _intervals(wide, say("95 % interval"), 2),
        _intervals(narrow, say("80 % interval"), 7),
        _marks(values, places, gauge.unit, symbol=symbols, size=12),
    ]
    bare = dict.fromkeys(("showticklabels", "showgrid", "zeroline"), False)
    lines = {"range": [len(ordered) - 0.4, -0.8], **bare}
    return _text(
        traces,
        _title(say("{unit}: {low} to {high}", unit=gauge.unit, low=gauge.low, high=gauge.high)),
        lines,
        _labels(names),
    )


def _labels(names: Sequence[str]) -> list[dict[str, object]]:
    """A name over the left end of each row; beside the rows a phone has no room for it."""
    corner = {"xref": "paper", "x": 0, "xanchor": "left", "yshift": 16, "showarrow": False}
    return [{"y": at, "text": escape(name), **corner} for at, name in enumerate(names)]


def _intervals(ends: Sequence[tuple[float, float]], name: str, width: int) -> go.Scatter:
    """One level line for each pair of ends, top to bottom, as one broken line."""
    x = [value for low, high in ends for value in (low, high, None)]
    y = [value for at in range(len(ends)) for value in (at, at, None)]
    return _line(x, y, name, color=EDGE, width=width)


def survival_figure(curves: Sequence[SurvivalCurve], unit: str = "lesson") -> Markup:
    """Kaplan-Meier steps of those not yet proficient."""
    traces = []
    for at, curve in enumerate(one for one in curves if one.n):
        colour, dash = STROKES[at % len(STROKES)]
        x, y = zip(*steps(curve), strict=True)
        known = escape(str(spoken(curve.name)))
        name = say("{name} (n = {n})", name=known or say("all"), n=curve.n)
        if curve.lows:
            spots, low, high = zip(*band(curve), strict=True)
            traces += _ribbon(spots, low, high, say("95 % interval of {name}", name=known))
        traces.append(_line(x, y, name, color=colour, dash=dash, shape="hv"))
    return _text(traces, _title(say(unit)), _title(say("not yet proficient"), **SHARES))


def reliability_figure(bins: Sequence[ForecastBin]) -> Markup:
    """Forecasts against what came true, with 95 % Wilson intervals and the diagonal."""
    above = [one.share_high - one.share for one in bins]
    below = [one.share - one.share_low for one in bins]
    symbols = ["circle" if one.agrees else "diamond-open" for one in bins]
    colours = [INK if one.agrees else RED for one in bins]
    said = [spoken(say("{k} of {n}", k=one.k, n=one.n)) for one in bins]
    at, shares = [one.forecast for one in bins], [one.share for one in bins]
    tried = _marks(at, shares, say("came true, 95 % interval"), symbol=symbols, color=colours)
    ends = {"array": above, "arrayminus": below, "symmetric": False, "color": EDGE, "width": 4}
    tried.update(text=said, error_y=ends)
    diagonal = _line([0, 1], [0, 1], say("as often as said"), color=EDGE, dash="dash")
    return _text(
        [diagonal, tried], _title(say("forecast"), **SHARES), _title(say("came true"), **SHARES)
    )


def cohort_figure(
    own: Sequence[tuple[Spot, float]], bands: Sequence[CohortBand], unit: str = "attempt"
) -> Markup:
    """One student over the percentiles of the cohort."""
    at = [one.at for one in bands]
    spots = [spot for spot, _ in own]
    student = _line(spots, [value for _, value in own], say("this student"))
    student.mode = "lines+markers"
    traces = [
        *_ribbon(
            at, [b.p10 for b in bands], [b.p90 for b in bands], say("10th to 90th percentile")
        ),
        *_ribbon(
            at, [b.p25 for b in bands], [b.p75 for b in bands], say("25th to 75th percentile")
        ),
        _line(at, [one.p50 for one in bands], say("median"), color=EDGE, dash="dash"),
        student,
    ]
    return _text(traces, _spots(at or spots, unit), _title(say("chance"), **SHARES))
