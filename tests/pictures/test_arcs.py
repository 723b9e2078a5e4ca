"""The needle on an arc says what it shows, and shows nothing it cannot know."""

import math
import re

import pytest

from gradebook.pictures import arc_dial, arc_glyph, check_glyph
from gradebook.pictures.arcs import CENTRE, RADIUS, at
from tests.pictures.reading import label_of, parsed, shapes


def test_the_label_gives_the_estimate_its_range_and_how_many_grades():
    label = label_of(arc_glyph(0.72, 0.55, 0.86, 0.6, 9))
    assert "72 %" in label
    assert "between 55 % and 86 %" in label
    assert "9 counted grades" in label


@pytest.mark.parametrize(("estimate", "where"), [(0.8, "in the"), (0.79, "below the")])
def test_the_label_says_whether_the_needle_stands_in_the_green_band(estimate, where):
    assert f"{where} green band" in label_of(arc_glyph(estimate, 0.5, 0.9, None, 9))


@pytest.mark.parametrize(
    ("n", "words"), [(0, "no counted grades"), (1, "1 counted grade"), (2, "2 counted grades")]
)
def test_too_few_grades_show_no_needle_and_say_how_many(n, words):
    glyph = arc_glyph(0.5, 0.1, 0.9, 0.5, n)
    assert shapes(glyph, "arc-needle") == []
    assert shapes(glyph, "arc-wedge") == []
    assert label_of(glyph) == f"Too few grades to tell: {words}"


def test_three_grades_show_the_needle():
    assert len(shapes(arc_glyph(0.5, 0.1, 0.9, None, 3), "arc-needle")) == 1


def test_no_estimate_shows_no_needle_however_many_grades():
    assert shapes(arc_glyph(None, 0, 1, 0.5, 30), "arc-needle") == []


def test_the_last_grade_is_ticked_only_if_there_is_one():
    assert len(shapes(arc_glyph(0.5, 0.1, 0.9, 0.25, 5), "arc-last")) == 1
    assert shapes(arc_glyph(0.5, 0.1, 0.9, None, 5), "arc-last") == []
    assert shapes(arc_glyph(None, 0, 1, 0.25, 0), "arc-last") == []


@pytest.mark.parametrize("share", [-0.5, 0, 0.3, 0.5, 1, 1.5])
def test_every_share_lies_on_the_arc(share):
    assert math.dist(at(share, RADIUS), CENTRE) == pytest.approx(RADIUS)


def test_the_arc_runs_from_left_over_the_top_to_the_right():
    left, top, right = at(0, RADIUS), at(0.5, RADIUS), at(1, RADIUS)
    assert left[0] < top[0] < right[0]
    assert top[1] < left[1] == pytest.approx(right[1])


@pytest.mark.parametrize(("estimate", "side"), [(0.1, -1), (0.5, 0), (0.95, 1)])
def test_the_needle_points_to_the_side_of_its_estimate(estimate, side):
    (needle,) = shapes(arc_glyph(estimate, 0, 1, None, 9), "arc-needle")
    tip = float(re.search(r"L([-\d.]+)", needle.get("d"))[1])
    assert (tip > CENTRE[0]) - (tip < CENTRE[0]) == side


def test_the_dial_has_graduations_and_the_same_words():
    values = (0.72, 0.55, 0.86, 0.6, 9)
    assert label_of(arc_dial(*values)) == label_of(arc_glyph(*values))
    assert len(shapes(arc_dial(*values), "arc-tick")) == 9
    assert shapes(arc_glyph(*values), "arc-tick") == []


def test_a_picture_brings_no_style_of_its_own():
    for element in parsed(arc_dial(0.72, 0.55, 0.86, 0.6, 9)).iter():
        assert {"style", "fill", "stroke"}.isdisjoint(element.keys())


def test_the_arc_of_a_stage_check_says_so():
    assert "Passes the stage check 62 %, likely between 40 % and 80 %" in check_glyph(
        0.62, 0.4, 0.8, 30
    )
    assert "Too few grades to tell" in check_glyph(0.62, 0.4, 0.8, 2)
