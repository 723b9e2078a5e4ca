"""The charts about stage checks: the finding names who is clear, n stands beside it."""

import pandas as pd
import pytest

from gradebook.analytics.examined import examine
from gradebook.charts.checks import before_checks, checked
from tests.analytics.test_examined import NOBODY, NONE, lessons, pairs

NAMES = {"a": "Ailsa", "b": "Benedict", "c": "Cleo", "d": "Dov"}


def school(**planted):
    seen = lessons(3, names="abcd", n=80, inflating=planted.get("inflating", ""))
    return examine(seen, pairs(3, names="abcd", above=planted.get("above", "")))


def test_who_grades_higher_before_checks_is_named_with_how_many_lessons():
    found = before_checks(school(inflating="b"), NAMES)
    assert found.title == (
        "Benedict grades clearly higher just before stage checks (4 instructors, 80 lessons)"
    )
    assert found.n == "80 lessons just before 48 stage checks"
    assert found.numbers.columns[:3] == ("Instructor", "Lessons before checks", "Other lessons")
    assert [row[0] for row in found.numbers.rows] == sorted(NAMES.values())
    assert [row[-1] for row in found.numbers.rows] == ["no", "yes", "no", "no"]
    assert found.title in found.picture
    assert "higher" in found.figure()


def test_whose_grades_the_check_does_not_bear_out_is_named():
    found = checked(school(above="d"), NAMES)
    assert found.title == (
        "Dov graded clearly above the next stage check (4 instructors, 384 pairs)"
    )
    assert found.n == "384 pairs of grades from 48 stage checks"
    row = dict(zip(found.numbers.columns, found.numbers.rows[3], strict=True))
    assert (row["Instructor"], row["Pairs"], row["Checks"]) == ("Dov", "96", "12")
    assert row["Same level"].endswith("%")
    assert -1 <= float(row["95 % from"]) < float(row["Kappa"]) < float(row["95 % to"]) <= 1
    assert float(row["Difference"]) > 0.5
    assert row["Clearly different"] == "yes"


def test_nobody_is_named_where_nobody_is_clear():
    for found in (before_checks(school(), NAMES), checked(school(), NAMES)):
        assert found.title.startswith("No instructor")
        assert not any(name in found.title for name in NAMES.values())


def test_n_says_how_many_the_title_counts_where_somebody_has_too_few():
    judged = pd.concat([pairs(1, names="a", checks=2), pairs(3, names="bcd")])
    seen = lessons(3, names="bcd", n=80), lessons(1, names="a", n=2)
    found = examine(pd.concat(seen), judged)
    chart = checked(found, NAMES)
    assert chart.title.endswith(" (3 instructors, 288 pairs)")
    assert chart.n == (
        "304 pairs of grades from 38 stage checks, 288 of them of the instructors shown"
    )
    chart = before_checks(found, NAMES)
    assert chart.title.endswith(" (3 instructors, 60 lessons)")
    assert ", 60 of them of the instructors shown" in chart.n


@pytest.mark.parametrize("n", [0, 1, 2])
def test_too_few_checks_are_said_in_title_picture_and_table(n):
    table = pd.concat([NONE, pairs(1, names="a", checks=n)]) if n else NONE
    found = examine(lessons(1, names="a", n=n) if n else NOBODY, table)
    for chart in (before_checks(found, NAMES), checked(found, NAMES)):
        assert chart.title == "Too few stage checks"
        assert "Too few stage checks" in chart.picture
        assert {row[-1] for row in chart.numbers.rows} <= {"too few"}
    assert checked(found, NAMES).n.startswith(f"{8 * n} pair")
