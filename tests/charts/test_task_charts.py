"""Charts of one student's task: proof after the first attempt, a trend from three grades on."""

from datetime import date, timedelta

import pytest

from gradebook.analytics.needle.outlook import Outlook
from gradebook.charts.chart import Chart, chart_named
from gradebook.charts.task import proof, trend
from gradebook.formats import count
from gradebook.records.trail import TrailPoint

BEGIN = date(2031, 3, 3)


def flown(*met: bool) -> list[TrailPoint]:
    return [
        TrailPoint(BEGIN + timedelta(days=3 * at), 0.5, 0.3, 0.7, one, f"record-{at}")
        for at, one in enumerate(met)
    ]


def test_ten_attempts_at_the_standard_after_the_first_are_proof():
    # shortest clean run of the plan .40/.10 in 20 attempts: 10 (analytics table, recomputed)
    found = proof(flown(False, *[True] * 10))
    assert "proven" in found.title.lower()
    assert found.n == "10 attempts after the first"


def test_nine_are_not_and_the_first_does_not_count():
    assert proof(flown(*[True] * 10)).title == proof(flown(False, *[True] * 9)).title
    assert "One more attempt" in proof(flown(*[True] * 10)).title


def test_attempts_below_the_standard_never_prove_anything():
    found = proof(flown(*[False] * 20))
    assert "10" in found.title
    assert {float(row[2]) for row in found.numbers.rows} == {0.0}


@pytest.mark.parametrize(("met", "n"), [((), 0), ((True,), 0), ((True, True), 1)])
def test_none_one_and_two_attempts_say_how_few_they_are(met, n):
    found = proof(flown(*met))
    assert found.n.startswith(f"{n} attempt")
    assert found.title
    assert "<svg" in found.picture


def test_a_chart_is_found_by_its_key():
    one = proof(flown(True, True))
    assert chart_named([one], "proof") is one
    assert chart_named([one], "trend") is None


def told(n: int) -> Chart:
    """The trend after so many grades, and today."""
    now = Outlook("hover", 0.61, 0.42, 0.78, attempts=n, idle=3, retention=0.9)
    return trend(flown(*[True] * n), now, BEGIN + timedelta(days=3 * n))


@pytest.mark.parametrize("n", [1, 2])
def test_the_trend_of_one_or_two_grades_names_no_chance(n):
    found = told(n)
    assert found.title.startswith("Too few grades to tell")
    assert "%" not in found.title
    assert "61 %" not in found.picture
    assert {row[1] for row in found.numbers.rows} == {""}
    assert found.n == count(n, "counted grade")


def test_the_trend_without_a_grade_says_so():
    assert told(0).title == "No counted grades yet"
    assert told(0).numbers.rows == ()
    assert trend([], None, BEGIN).title == "No counted grades yet"


def test_the_third_grade_brings_the_chance_of_today_and_no_earlier_one():
    found = told(3)
    assert found.title.startswith("61 % likely to meet the standard")
    assert [row[1] for row in found.numbers.rows] == ["", "", "", "61 %"]


def test_the_fourth_grade_stands_beside_the_chance_told_before_it():
    assert [row[1] for row in told(4).numbers.rows] == ["", "", "", "50 %", "61 %"]
