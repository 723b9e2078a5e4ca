"""The charts of the school: the label states the finding and n; noise is not ranked."""

from dataclasses import replace

import pytest

from gradebook.pictures import caterpillar, reliability, survival_steps
from gradebook.pictures.series import SEVERITY, SurvivalCurve
from tests.pictures.reading import label_of, path_points, shapes, texts
from tests.pictures.samples import curve, instructors, one_bin


def test_only_clear_differences_are_named():
    assert label_of(caterpillar(instructors())) == (
        "Benedict grades clearly harder; Dov grades clearly easier (3 instructors, 532 grades)"
    )


@pytest.mark.parametrize(
    ("n", "label"),
    [
        (0, "No instructor has grades yet"),
        (
            1,
            "No instructor grades clearly harder or easier than the school "
            "(1 instructor, 212 grades)",
        ),
        (2, "Dov grades clearly easier (2 instructors, 392 grades)"),
    ],
)
def test_few_instructors_can_be_drawn(n, label):
    picture = caterpillar(instructors()[:n])
    assert label_of(picture) == label
    assert len(shapes(picture, "chart-wide")) == n


def test_clear_differences_stand_first_and_the_rest_by_name():
    rows = instructors()
    unclear = [
        type(rows[0])(name, value, value - 1, value + 1, value - 2, value + 2, 5, False)
        for name, value in (("Zoe", 0.9), ("Cleo", -0.5))
    ]
    said = texts(caterpillar([*unclear, *rows]))
    names = [words for words in said if words.isalpha() and words.istitle()]
    assert names == ["Benedict", "Dov", "Ailsa", "Cleo", "Zoe"]


def test_harder_is_drawn_further_right_and_zero_between():
    picture = caterpillar(instructors())
    clear = [float(one.get("cx")) for one in shapes(picture, "chart-met")]
    (zero,) = shapes(picture, "chart-zero")
    harder, easier = clear
    assert easier < path_points(zero)[0][0] < harder
    assert len(shapes(picture, "chart-open")) == 1


def test_the_80_percent_interval_lies_inside_the_95_percent_one():
    picture = caterpillar(instructors())
    pairs = zip(shapes(picture, "chart-wide"), shapes(picture, "chart-narrow"), strict=True)
    for wide, narrow in pairs:
        (low95, _), high95 = path_points(wide)[0], float(wide.get("d").split("H")[1])
        (low, _), high = path_points(narrow)[0], float(narrow.get("d").split("H")[1])
        assert low95 < low < high < high95


def test_half_the_group_is_told_with_its_number():
    assert (
        label_of(survival_steps([curve()]))
        == "Half were proficient by lesson 5 (n = 4 students)"
    )


def test_where_fewer_than_half_got_there_no_median_is_claimed():
    waiting = SurvivalCurve("", 4, 8, (3,), (0.75,), (4,))
    label = "Fewer than half were proficient by lesson 8 (n = 4 students)"
    assert label_of(survival_steps([waiting])) == label


@pytest.mark.parametrize("curves", [[], [SurvivalCurve("New", 0, 0, (), (), ())]])
def test_nobody_begun_is_said(curves):
    assert label_of(survival_steps(curves)) == "No student has begun yet"


def test_one_student_can_be_drawn():
    done = survival_steps([SurvivalCurve("", 1, 6, (6,), (0,), (1,))])
    assert label_of(done) == "Half were proficient by lesson 6 (n = 1 student)"
    training = survival_steps([SurvivalCurve("", 1, 6, (), (), ())])
    assert label_of(training) == "Fewer than half were proficient by lesson 6 (n = 1 student)"
    assert shapes(training, "chart-line")[0].get("d").startswith("M44 22H312")


def test_the_steps_only_go_down_and_last_as_long_as_anybody_was_followed():
    (line,) = shapes(survival_steps([curve()]), "chart-line")[:1]
    down = [float(part.split("H")[0]) for part in line.get("d").split("V")[1:]]
    assert down == sorted(down)
    across = [float(part.split("V")[0]) for part in line.get("d").split("H")[1:]]
    assert across == sorted(across)
    assert across[-1] == 312


def test_groups_have_strokes_of_their_own_their_name_and_their_number_at_risk():
    picture = survival_steps([curve("Revision 2"), curve("Revision 3", n=9)])
    assert label_of(picture) == (
        "Revision 2: half were proficient by lesson 5 (n = 4 students); "
        "Revision 3: half were proficient by lesson 5 (n = 9 students)"
    )
    assert len(shapes(picture, "chart-second")) == 2  # the steps and the sample beside the name
    assert {"Revision 2, still counted", "Revision 3, still counted", "4", "9", "3"} <= set(
        texts(picture)
    )


def test_forecasts_that_came_true_are_counted_in_groups():
    bins = [one_bin(0.3, 4, 12), one_bin(0.7, 5, 40)]
    assert label_of(reliability(bins)) == (
        "Forecasts came true as often as they said in 1 of 2 groups (52 forecasts)"
    )
    assert len(shapes(reliability(bins), "chart-off")) == 1
    assert {"12", "40"} <= set(texts(reliability(bins)))


@pytest.mark.parametrize(
    ("bins", "label"),
    [
        ([], "No forecast has been tried yet"),
        (
            [one_bin(0.5, 1, 1)],
            "Forecasts came true as often as they said, in all of 1 group (1 forecast)",
        ),
        (
            [one_bin(0.5, 1, 2)],
            "Forecasts came true as often as they said, in all of 1 group (2 forecasts)",
        ),
    ],
)
def test_few_forecasts_can_be_drawn(bins, label):
    picture = reliability(bins)
    assert label_of(picture) == label
    assert len(shapes(picture, "chart-met")) == len(bins)


def test_what_came_true_more_often_is_drawn_higher():
    picture = reliability([one_bin(0.2, 2, 10), one_bin(0.5, 5, 10), one_bin(0.8, 8, 10)])
    discs = shapes(picture, "chart-met")
    down = [float(one.get("cy")) for one in discs]
    across = [float(one.get("cx")) for one in discs]
    assert down == sorted(down, reverse=True)
    assert across == sorted(across)


def test_names_of_a_school_cannot_break_out_of_a_chart():
    row = instructors()[2]
    named = type(row)("<b>&", 0.4, 0.3, 0.5, 0.2, 0.6, 9, True)
    picture = caterpillar([named])
    assert "<b>" not in picture
    assert "<b>&" in texts(picture)


def test_a_curve_that_knows_its_interval_stands_in_a_band_that_steps_with_it():
    banded = replace(curve("New"), lows=(0.3, 0.01), highs=(0.96, 0.66))
    assert shapes(survival_steps([curve()]), "chart-band") == []
    (area,) = shapes(survival_steps([banded, curve("Old")]), "chart-band")
    # two corners for each of two steps and both ends, there and back
    assert len(path_points(area)) == 2 * (2 * 2 + 2)
    lines = shapes(survival_steps([banded]), "chart-line")
    assert path_points(area)[0] in [path_points(line)[0] for line in lines]


def test_another_gauge_says_what_it_measures():
    gauge = replace(
        SEVERITY,
        unit="levels",
        low="below",
        high="above",
        counted="pair",
        act=("graded", "graded"),
        higher="above the check",
        lower="below the check",
        none="Too few stage checks",
    )
    said = texts(caterpillar(instructors(), gauge))
    assert {"← below", "above →", "levels", "140 pairs"} <= set(said)
    assert label_of(caterpillar(instructors(), gauge)) == (
        "Benedict graded clearly above the check; Dov graded clearly below the check "
        "(3 instructors, 532 pairs)"
    )
    assert label_of(caterpillar([], gauge)) == "Too few stage checks"
    assert "too few stage checks" in texts(caterpillar([], gauge))
