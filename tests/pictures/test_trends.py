"""Grades over time: drawn on the levels of the scale, and told in words."""

from gradebook.pictures import trend_strip
from tests.pictures.reading import label_of, parsed, shapes

LEVELS = [(1, "Describe"), (2, "Explain"), (3, "Perform")]


def strip(*ranks):
    points = [(f"{day} Nov", rank) for day, rank in enumerate(ranks, start=1)]
    return trend_strip(points, LEVELS, 3)


def heights(picture, name):
    return [float(dot.get("cy")) for dot in shapes(picture, name)]


def test_no_grades_show_the_band_alone_and_say_so():
    assert label_of(strip()) == "No counted grades yet"
    assert len(shapes(strip(), "trend-band")) == 1
    assert shapes(strip(), "trend-line") == []


def test_one_grade_is_a_dot_without_a_line():
    assert label_of(strip(2)) == "One grade: Explain, below the standard"
    assert label_of(strip(3)) == "One grade: Perform, meets the standard"
    assert len(shapes(strip(2), "trend-below")) == 1
    assert shapes(strip(2), "trend-line") == []


def test_two_grades_are_joined_and_told_from_first_to_last():
    picture = strip(1, 3)
    label = "2 grades, from Describe to Perform; 1 met the standard (Perform)"
    assert label_of(picture) == label
    assert len(shapes(picture, "trend-line")) == 1


def test_a_better_grade_stands_higher_and_only_those_in_the_band_are_filled():
    picture = strip(1, 2, 3)
    (describe, explain), (perform,) = (
        heights(picture, "trend-below"),
        heights(picture, "trend-met"),
    )
    assert describe > explain > perform
    floor = float(shapes(picture, "trend-band")[0].get("height"))
    assert perform < floor < explain


def test_a_grade_not_counted_leaves_a_mark_but_no_dot():
    picture = strip(2, None, 3)
    assert len(shapes(picture, "trend-gap")) == 1
    assert len(heights(picture, "trend-below") + heights(picture, "trend-met")) == 2
    assert "2 Nov: not counted" in parsed(picture).find("desc").text


def test_only_grades_not_counted_are_no_grades():
    assert label_of(strip(None, None)) == "No counted grades yet"


def test_the_words_hold_every_day_and_level():
    assert parsed(strip(1, 3)).find("desc").text == "1 Nov: Describe; 2 Nov: Perform"


def test_many_grades_stay_inside_the_picture_and_the_words_count_all():
    picture = strip(*[1, 2, 3] * 20)
    across = [float(dot.get("cx")) for dot in shapes(picture, "trend-below")]
    assert 0 < min(across) < max(across) < 160
    assert label_of(picture).startswith("60 grades")


def test_words_of_a_school_cannot_break_out_of_the_picture():
    picture = trend_strip([('"><script>', 1)], [(1, "<b>&")], 1)
    assert "<script>" not in picture
    assert label_of(picture) == "One grade: <b>&, meets the standard"


def test_a_scale_of_one_level_can_be_drawn():
    assert len(shapes(trend_strip([("1 Nov", 1)], [(1, "Seen")], 1), "trend-met")) == 1
