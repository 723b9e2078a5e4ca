"""The charts of one student: the label states the finding, and better is drawn higher."""

from datetime import date, timedelta

import pytest

from gradebook.pictures import cohort_strip, proof_chart, run_chart, trend_band
from gradebook.pictures.evidence import MOST
from gradebook.pictures.series import ScoreRun, TrendPoint
from tests.pictures.reading import label_of, path_points, shapes, texts
from tests.pictures.samples import DAY, cohort, opportunities, runs, trend


def heights(picture, name):
    return [float(one.get("cy")) for one in shapes(picture, name)]


def test_the_trend_tells_the_chance_its_interval_where_it_stands_and_how_many_met_it():
    assert label_of(trend_band(trend(5))) == (
        "85 % likely to meet the standard (80 % interval 65 to 95 %), in the green band, "
        "30 % at first; 4 of 5 grades met it"
    )


@pytest.mark.parametrize(("chance", "where"), [(0.8, "in the"), (0.79, "below the")])
def test_the_trend_says_whether_it_ends_in_the_green_band(chance, where):
    assert f"{where} green band" in label_of(trend_band([TrendPoint(1, chance)]))


def test_a_higher_chance_is_drawn_higher():
    (line,) = shapes(trend_band(trend(5)), "chart-line")
    down = [y for _, y in path_points(line)]
    assert down == sorted(down, reverse=True)
    assert len(set(down)) == 5


def test_the_line_runs_inside_its_interval_and_enters_the_green_band():
    picture = trend_band(trend(5))
    (line,), (band,) = shapes(picture, "chart-line"), shapes(picture, "chart-band")
    edge = path_points(band)
    for (x, y), (_, high), (_, low) in zip(
        path_points(line), edge[:5], reversed(edge[5:]), strict=True
    ):
        assert high < y < low, x
    (green,) = shapes(picture, "chart-green")
    floor = float(green.get("y")) + float(green.get("height"))
    down = [y for _, y in path_points(line)]
    assert down[-1] < floor < down[-2]


def test_a_grade_that_met_the_standard_is_filled_and_stands_over_one_that_did_not():
    picture = trend_band(trend(5))
    met, short = heights(picture, "chart-met"), heights(picture, "chart-open")
    assert (len(met), len(short)) == (4, 1)
    assert max(met) < short[0]


def test_days_stand_as_far_apart_as_they_are():
    days = (0, 1, 11)
    points = [TrendPoint(DAY + timedelta(days=at), 0.5) for at in days]
    first, second, last = path_points(shapes(trend_band(points), "chart-line")[0])
    assert second[0] - first[0] == pytest.approx((last[0] - first[0]) / 11, abs=0.1)


@pytest.mark.parametrize(
    ("n", "label"),
    [
        (0, "No counted grades yet"),
        (1, "Too few grades to tell; 1 of 1 grade met it"),
        (2, "Too few grades to tell; 1 of 2 grades met it"),
    ],
)
def test_too_few_grades_show_no_line(n, label):
    picture = trend_band([TrendPoint(at, None, met=at == 0) for at in range(n)])
    assert label_of(picture) == label
    assert shapes(picture, "chart-line") == shapes(picture, "chart-band") == []
    assert len(shapes(picture, "chart-met") + shapes(picture, "chart-open")) == n


def test_a_single_chance_is_a_disc_in_a_bar():
    picture = trend_band(trend(1))
    assert shapes(picture, "chart-line") == []
    assert len(shapes(picture, "chart-now")) == len(shapes(picture, "chart-band")) == 1
    assert "2 Mar 2026" in texts(picture)


def test_attempts_name_their_unit_and_days_do_not_need_one():
    counted = texts(trend_band([TrendPoint(1, 0.5), TrendPoint(9, 0.6)]))
    assert {"1", "9", "attempt"} <= set(counted)
    dated = texts(trend_band(trend(5)))
    assert {"2 Mar 2026", "30 Mar 2026"} <= set(dated)
    assert "attempt" not in dated


@pytest.mark.parametrize(
    ("marks", "label"),
    [
        ("", "No opportunity yet; target below 10 %"),
        ("o", "No error in 1 opportunity; target below 10 %"),
        ("x", "1 error in 1 opportunity; the latest had it; target below 10 %"),
        ("xo", "1 error in 2 opportunities; 1 clean since; target below 10 %"),
        (
            "xxoxoooo",
            "3 errors in 8 opportunities, 1 in the last 5; 4 clean since; target below 10 %",
        ),
    ],
)
def test_the_run_of_errors_is_told_in_all_lately_and_since(marks, label):
    assert label_of(run_chart(opportunities(marks), 0.1)) == label


def test_every_opportunity_has_a_mark_in_its_order():
    picture = run_chart(opportunities("xoox"), 0.1)
    errors = [float(one.get("x")) for one in shapes(picture, "chart-error")]
    clean = [float(one.get("x")) for one in shapes(picture, "chart-clean")]
    assert errors[0] < clean[0] < clean[1] < errors[1]


def test_fewer_errors_lately_bring_the_line_down():
    picture = run_chart(opportunities("xxxxxooooo"), 0.1)
    down = [y for _, y in path_points(shapes(picture, "chart-line")[0])]
    assert down == sorted(down)
    (target,) = shapes(picture, "chart-target")
    assert down[0] < path_points(target)[0][1] < down[-1]


def test_no_line_before_a_window_is_full():
    assert shapes(run_chart(opportunities("xoxo"), 0.1, window=5), "chart-line") == []


def test_many_opportunities_stay_on_the_paper_and_the_words_count_all():
    picture = run_chart(opportunities("xo" * 40), 0.1)
    marks = shapes(picture, "chart-error") + shapes(picture, "chart-clean")
    assert len(marks) == MOST
    assert all(0 < float(one.get("x")) < 314 for one in marks)
    assert label_of(picture).startswith("40 errors in 80 opportunities")


def test_the_first_attempts_prove_nothing():
    assert label_of(proof_chart([])) == "No attempt yet: no evidence"
    assert label_of(proof_chart([ScoreRun((), 3.35, False)])) == "No attempt yet: no evidence"
    one = proof_chart([ScoreRun((0.47,), 3.35, False)])
    assert label_of(one) == "Not enough evidence after 1 attempt: 14 % of what is needed"
    two = proof_chart([ScoreRun((0.47, 0.0), 3.35, False)])
    assert label_of(two) == "Not enough evidence after 2 attempts: 0 % of what is needed"


def test_a_score_at_its_line_is_the_proof():
    picture = proof_chart([ScoreRun((1.7, 3.35), 3.35, True)])
    assert label_of(picture) == "Enough evidence at attempt 2"
    (disc,), (line,) = shapes(picture, "chart-met"), shapes(picture, "chart-target")
    assert float(disc.get("cy")) == path_points(line)[0][1]
    assert {"3.35", "enough evidence"} <= set(texts(picture))


def test_a_greater_score_is_drawn_higher():
    picture = proof_chart([ScoreRun((0.5, 1.0, 1.5), 3.35, False)])
    down = [y for _, y in path_points(shapes(picture, "chart-line")[0])]
    assert down == sorted(down, reverse=True)


def test_after_the_proof_the_relapse_score_hangs_below():
    picture = proof_chart(runs())
    assert label_of(picture) == "Enough evidence at attempt 3; no relapse in 2 since"
    rise, fall = (
        path_points(shapes(picture, name)[0]) for name in ("chart-line", "chart-fall")
    )
    assert rise[-1][0] == fall[0][0]
    assert fall[-1][1] > fall[0][1] == rise[0][1]
    assert {"relapse", "2.50"} <= set(texts(picture))


def test_a_relapse_takes_the_proof_back_and_the_test_begins_again():
    fallen = [ScoreRun((3.4,), 3.35, True), ScoreRun((0.9, 2.6), 2.5, True)]
    assert label_of(proof_chart(fallen)) == (
        "Relapse at attempt 3: the evidence no longer stands"
    )
    assert len(shapes(proof_chart(fallen), "chart-alarm")) == 1
    again = [*fallen, ScoreRun((0.47,), 3.35, False)]
    assert "after 4 attempts, relapse at attempt 3" in label_of(proof_chart(again))
    assert len(shapes(proof_chart(again), "chart-line")) == 2


@pytest.mark.parametrize(
    ("value", "where"),
    [
        (0.1, "in the lowest tenth of"),
        (0.16, "between the 10th and the 25th percentile of"),
        (0.35, "in the middle half of"),
        (0.5, "between the 75th and the 90th percentile of"),
        (0.9, "in the highest tenth of"),
    ],
)
def test_the_student_is_told_among_those_who_were_as_far(value, where):
    picture = cohort_strip([(1, value)], cohort(3))
    assert label_of(picture) == f"{round(value * 100)} % at attempt 1, {where} 12 students"


@pytest.mark.parametrize("n", [0, 1, 2])
def test_few_of_a_cohort_can_be_drawn(n):
    own = [(at, 0.4) for at in range(1, n + 1)]
    picture = cohort_strip(own, cohort(n))
    assert len(shapes(picture, "chart-met")) == n
    assert len(shapes(picture, "chart-line")) == (n == 2)
    assert (label_of(picture) == "No estimate of this student yet") == (n == 0)


def test_where_nobody_else_was_there_is_no_comparison():
    picture = cohort_strip([(date(2026, 3, 2), 0.4)], [])
    assert (
        label_of(picture) == "40 % on 2 Mar 2026; too few other students to compare with there"
    )


def test_the_middle_half_lies_inside_the_middle_four_fifths():
    outer, inner = (
        path_points(one) for one in shapes(cohort_strip([], cohort(3)), "chart-band")
    )
    for (_, top), (_, within) in zip(outer[:3], inner[:3], strict=True):
        assert top < within
    for (_, bottom), (_, within) in zip(outer[3:], inner[3:], strict=True):
        assert bottom > within


@pytest.mark.parametrize(
    "picture",
    [
        trend_band(trend(5)),
        run_chart(opportunities("xoxox"), 0.1),
        proof_chart(runs()),
        cohort_strip([(1, 0.3), (2, 0.4)], cohort(2)),
    ],
)
def test_a_chart_brings_no_style_of_its_own(picture):
    assert all(
        {"style", "fill", "stroke"}.isdisjoint(one.keys()) for one in shapes(picture, "")
    )
