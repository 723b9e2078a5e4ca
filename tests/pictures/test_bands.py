"""Shares with their interval, and requirements met and missing."""

import pytest

from gradebook.pictures import proportion_bar, readiness_dots
from tests.pictures.reading import label_of, shapes


def test_nothing_tried_draws_the_bare_line():
    picture = proportion_bar(0, 0, 0, 1)
    assert label_of(picture) == "Nothing counted yet"
    assert shapes(picture, "share-dot") == shapes(picture, "share-band") == []


@pytest.mark.parametrize(
    ("k", "n", "words"),
    [(0, 1, "0 of 1 (0 %)"), (1, 1, "1 of 1 (100 %)"), (1, 2, "1 of 2 (50 %)")],
)
def test_a_share_is_told_as_a_count_and_a_percentage(k, n, words):
    assert label_of(proportion_bar(k, n, 0.1, 0.9)) == f"{words}, likely between 10 % and 90 %"


def test_the_disc_stands_inside_the_bar_of_its_interval():
    picture = proportion_bar(3, 8, 0.14, 0.69)
    (dot,), (band,) = shapes(picture, "share-dot"), shapes(picture, "share-band")
    left = float(band.get("x"))
    assert left < float(dot.get("cx")) < left + float(band.get("width"))


def test_more_trials_draw_a_shorter_bar():
    few, many = (
        float(shapes(proportion_bar(*values), "share-band")[0].get("width"))
        for values in ((1, 2, 0.09, 0.91), (20, 40, 0.35, 0.65))
    )
    assert many < few


def test_requirements_are_squares_when_met_and_diamonds_when_missing():
    picture = readiness_dots([("Hours", True), ("Run-up", False), ("Test", True)])
    assert len(shapes(picture, "dot-met")) == 2
    assert len(shapes(picture, "dot-missing")) == 1
    assert label_of(picture) == "2 of 3 met; missing: Run-up"


def test_all_met_names_nothing_missing():
    assert label_of(readiness_dots([("Hours", True)])) == "1 of 1 met"


def test_no_requirements_say_so():
    assert label_of(readiness_dots([])) == "Nothing required"
