"""The figures for plotly hold the numbers of the charts and ask for nothing unsafe."""

import json
import re

import pytest

from gradebook.pictures import figures
from gradebook.pictures.series import ScoreRun
from gradebook.words import Language, speaking
from tests.pictures.samples import (
    cohort,
    curve,
    instructors,
    one_bin,
    opportunities,
    runs,
    trend,
)

FULL = {
    "trend": lambda: figures.trend_figure(trend(5)),
    "run": lambda: figures.run_figure(opportunities("xoxoxoxo"), 0.1),
    "proof": lambda: figures.proof_figure(runs()),
    "severity": lambda: figures.severity_figure(instructors()),
    "survival": lambda: figures.survival_figure([curve("Revision 2"), curve("Revision 3")]),
    "reliability": lambda: figures.reliability_figure([one_bin(0.3, 4, 12)]),
    "cohort": lambda: figures.cohort_figure([(1, 0.3), (2, 0.4)], cohort(3)),
}
FEW = {
    "trend": lambda n: figures.trend_figure(trend(n)),
    "run": lambda n: figures.run_figure(opportunities("xo"[:n]), 0.1),
    "proof": lambda n: figures.proof_figure([ScoreRun((0.4, 0.8)[:n], 3.35, False)]),
    "severity": lambda n: figures.severity_figure(instructors()[:n]),
    "survival": lambda n: figures.survival_figure([curve(n=n)]),
    "reliability": lambda n: figures.reliability_figure([one_bin(0.5, 1, 2)] * n),
    "cohort": lambda n: figures.cohort_figure([(at, 0.4) for at in range(n)], cohort(n)),
}


def traces(text):
    return {one["name"]: one for one in json.loads(text)["data"]}


@pytest.mark.parametrize("figure", FULL.values(), ids=FULL)
def test_only_traces_that_draw_without_eval_are_used(figure):
    assert {one["type"] for one in json.loads(figure())["data"]} == {"scatter"}


@pytest.mark.parametrize("figure", FULL.values(), ids=FULL)
def test_colours_are_those_of_the_style_sheet(figure):
    assert re.findall(r"#[0-9a-fA-F]{3}|rgba?\(", figure()) == []
    layout = json.loads(figure())["layout"]
    assert layout["paper_bgcolor"] == "var(--paper)"
    assert layout["font"]["color"] == "var(--ink)"


@pytest.mark.parametrize("figure", FULL.values(), ids=FULL)
def test_the_horizontal_axis_says_what_it_measures(figure):
    assert json.loads(figure())["layout"]["xaxis"]["title"]["text"]


def said_by(text):
    figure = json.loads(text)
    axes = [figure["layout"][axis].get("title", {}).get("text") for axis in ("xaxis", "yaxis")]
    return {*(one["name"] for one in figure["data"]), *filter(None, axes)}


@pytest.mark.parametrize("figure", FULL.values(), ids=FULL)
def test_lines_and_axes_speak_the_readers_language(figure):
    with speaking(Language("de")):
        german = said_by(figure())
    assert german & said_by(figure()) <= {"Revision 2 (n = 4)", "Revision 3 (n = 4)"}


@pytest.mark.parametrize("figure", FEW.values(), ids=FEW)
@pytest.mark.parametrize("n", [0, 1, 2])
def test_few_numbers_are_a_figure_too(figure, n):
    assert json.loads(figure(n))["data"] is not None


def test_the_trend_holds_every_chance_and_every_grade():
    found = traces(figures.trend_figure(trend(5)))
    assert found["chance of meeting the standard"]["y"] == [0.3, 0.5, 0.65, 0.75, 0.85]
    assert found["chance of meeting the standard"]["x"][0] == "2026-03-02"
    assert len(found["grade met the standard"]["x"]) == 4
    assert found["grade did not"]["x"] == ["2026-03-09"]


def test_the_relapse_score_falls_below_zero_after_the_proof():
    found = traces(figures.proof_figure(runs()))
    fall = found["score towards relapse"]
    assert fall["x"] == [3, 4, 5]
    assert fall["y"][-1] == pytest.approx(-0.9 / 2.5)


def test_instructors_stand_as_in_the_picture():
    text = figures.severity_figure(instructors())
    assert traces(text)["severity"]["x"] == [0.42, -0.31, -0.05]
    names = [one["text"] for one in json.loads(text)["layout"]["annotations"]]
    assert names == ["Benedict (n = 140)", "Dov (n = 180)", "Ailsa (n = 212)"]


def test_the_steps_reach_the_last_time_anybody_was_followed():
    steps = traces(figures.survival_figure([curve("")]))["all (n = 4)"]
    assert steps["line"]["shape"] == "hv"
    assert list(zip(steps["x"], steps["y"], strict=True)) == [
        (0, 1),
        (3, 0.75),
        (5, 0.25),
        (8, 0.25),
    ]


def test_names_of_a_school_can_neither_end_the_script_nor_become_tags():
    row = instructors()[0]
    named = type(row)("</script><b>", 0, -1, 1, -2, 2, 9, False)
    for text in (
        figures.severity_figure([named]),
        figures.survival_figure([curve("</script>")]),
    ):
        assert "<" not in text
        assert "&lt;/script&gt;" in json.dumps(json.loads(text))
