import json

import pytest

from tests.bench import years
from tests.bench.__main__ import main
from tests.bench.places import Screen
from tests.cast import SECRET
from tests.story import tell


def bench(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """One thread: threads that wait for each other would slow the other tests."""
    assert main(["--quick", "--threads", "1", *words]) == 0
    return capsys.readouterr().out


def test_a_quick_bench_measures_everything_and_says_where(capsys):
    found = json.loads(bench(capsys, "--json"))
    names = [one["name"] for one in found["figures"]]
    assert len(set(names)) == len(names)
    for job in (
        "rebuild, 1 speed", "rebuild, 3 speeds", "rebuild, 5 speeds", "update at a sign-off",
        "sign-off in SQLite", "full fit, large school", "full fit, young school",
        "full fit, whole school", "gradient boosting, whole school",
        "knowledge tracing, whole school",
        "gradient boosting, large school", "gradient boosting, young school",
        "knowledge tracing, large school", "knowledge tracing, young school",
        "ordered regression, young school", "outlooks, tasks: 25", "prospect, tasks: 1",
        "chance of a check, tasks: 15", "suggestion, tasks: 25",
        "sign-off with its statement", "prove, 40 entries", "canonical text", "leaf",
        "signature", "verification", "judge a record of 3 lessons",
    ):  # fmt: skip
        assert job in names
    for one in found["figures"]:
        assert one["rows"] >= 1
        assert one["time"]["runs"] >= 1
        assert 0 < one["time"]["fastest"] <= one["time"]["seconds"]
        assert one["time"]["cpu"] >= 0
        assert one["microseconds_a_row"] * one["rows"] == pytest.approx(
            one["time"]["seconds"] * 1e6
        )
        assert one["ratio_to_base"] * one["base"] == pytest.approx(one["time"]["seconds"])
    assert found["machine"]["cores"] >= 1
    assert found["machine"]["limit"] == 1
    assert "scikit-learn" in found["machine"]["libraries"]
    assert set(found["machine"]["threads"]) >= {"OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"}
    assert len(found["goals"]) == 4


def test_a_quick_bench_prints_a_table_with_a_line_a_figure(capsys):
    lines = bench(capsys).splitlines()
    heads = ("seconds", "fastest", "CPU s", "rows", "us/row", "x base", "load")
    assert " ".join(lines[0].split()) == " ".join(heads)
    blank = lines.index("")
    assert len(lines[1:blank]) == 33
    for line in lines[1:blank]:
        assert all(float(cell) >= 0 for cell in line.split()[-7:])
    assert any(line.startswith("load average") for line in lines)


def test_a_school_of_years_is_copied_whole_and_its_pages_are_opened(school):
    tell(school)
    before = years.size(school.app)
    years.grow(school.database.engine, copies=2, current=1)
    assert years.size(school.app) == {name: 3 * number for name, number in before.items()}
    assert before["grade"] > 0
    pages = [
        Screen("readiness", "cleo@school.example", "/readiness"),
        Screen("cohort", "ana@school.example", f"/students/{school.enrolment}/cohort"),
    ]
    found = list(years.opening(school.app, pages, SECRET, runs=1))
    assert [one.name for one in found] == ["readiness", "cohort"]
    for one in found:
        assert 0 < one.time.fastest <= one.time.seconds
        assert one.kb > 1
        assert one.statements >= 1
        assert one.ratio > 0
