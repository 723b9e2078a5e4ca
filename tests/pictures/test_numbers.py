"""The table beside a chart holds the same numbers."""

import pytest

from gradebook.pictures import numbers
from gradebook.pictures.series import TrendPoint
from tests.pictures.samples import (
    cohort,
    curve,
    instructors,
    one_bin,
    opportunities,
    runs,
    trend,
)

TABLES = {
    "trend": lambda n: numbers.trend(trend(n)),
    "run": lambda n: numbers.run(opportunities("xo"[:n])),
    "proof": lambda n: numbers.proof(runs()[:n]),
    "severity": lambda n: numbers.severity(instructors()[:n]),
    "survival": lambda n: numbers.survival([curve()][:n]),
    "reliability": lambda n: numbers.reliability([one_bin(0.5, 1, 2)] * n),
    "cohort": lambda n: numbers.cohort([], cohort(n)),
}


@pytest.mark.parametrize("table", TABLES.values(), ids=TABLES)
@pytest.mark.parametrize("n", [0, 1, 2])
def test_every_row_has_as_many_cells_as_there_are_columns(table, n):
    found = table(n)
    assert {len(row) for row in found.rows} <= {len(found.columns)}
    assert bool(found.rows) == (n > 0)


def test_the_trend_gives_day_chance_interval_and_grade():
    found = numbers.trend(trend(2))
    assert found.columns[0] == "Date"
    assert found.rows[1] == ("9 Mar 2026", "50 %", "30 %", "60 %", "no")


def test_where_nothing_can_be_told_cells_stay_empty():
    found = numbers.trend([TrendPoint(3, None)])
    assert found.columns[0] == "Attempt"
    assert found.rows == (("3", "", "", "", ""),)


def test_errors_are_told_one_by_one():
    assert [row[1] for row in numbers.run(opportunities("xoo")).rows] == ["yes", "no", "no"]


def test_attempts_are_counted_through_proof_and_relapse():
    rows = numbers.proof(runs()).rows
    assert [row[0] for row in rows] == ["1", "2", "3", "4", "5"]
    assert rows[2] == ("3", "proof", "3.40", "3.35")
    assert rows[4] == ("5", "relapse", "0.90", "2.50")


def test_instructors_have_both_intervals_and_n():
    first = numbers.severity(instructors()).rows[0]
    assert first == ("Benedict", "+0.42", "+0.28", "+0.56", "+0.20", "+0.64", "140", "yes")


def test_each_step_has_its_number_at_risk():
    assert numbers.survival([curve()]).rows == (
        ("3", "all", "4", "75 %"),
        ("5", "all", "3", "25 %"),
    )


def test_a_group_of_forecasts_has_its_count_and_its_wilson_interval():
    # Wilson interval of 5 of 10, from statsmodels.stats.proportion.proportion_confint.
    row = numbers.reliability([one_bin(0.5, 5, 10)]).rows[0]
    assert row == ("45 to 55 %", "50 %", "5", "10", "50 %", "24 %", "76 %", "yes")


def test_the_student_stands_beside_the_cohort_at_the_same_attempt():
    rows = numbers.cohort([(1, 0.2), (4, 0.6)], cohort(2)).rows
    assert rows[0] == ("1", "20 %", "15 %", "25 %", "35 %", "45 %", "55 %", "12")
    assert rows[1][:2] == ("2", "")
    assert rows[2] == ("4", "60 %", "", "", "", "", "", "")
