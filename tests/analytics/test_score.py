"""The score of forecasts on held-out students, and the commands that print it."""

import json
import sys
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from gradebook.analytics.forecast import forecast
from gradebook.analytics.metrics import brier
from gradebook.analytics.score import (
    LIMIT,
    OURS,
    PREDICTORS,
    held_out,
    limit,
    our_forecast,
    score,
    simple_forecasts,
)
from gradebook.analytics.worlds.flights import Size
from gradebook.analytics.worlds.simulation import simulate
from gradebook.cli import main


@pytest.fixture(scope="module")
def world():
    return simulate("A", Size(students=12, tasks=4, instructors=3, lessons=8), seed=1)


@pytest.fixture(scope="module")
def train(world):
    return world.flights.student < 8


@pytest.fixture(scope="module")
def ours(world, train):
    return forecast(world.grades, world.levels, world.standard, train)


@pytest.fixture(scope="module")
def csv(world, tmp_path_factory):
    path = tmp_path_factory.mktemp("grades") / "school.csv"
    world.grades.to_csv(path, index=False)
    return path


def run(*words):
    return main([str(word) for word in words])


# Scores


def test_only_held_out_students_count(world, train):
    right = world.meets.astype(float)
    scores = score(world, train, {"right": right, "there": np.where(train, 0.5, right)})
    assert scores["brier"].tolist() == [0, 0]


def test_every_predictor_has_a_row(world, train):
    found = simple_forecasts(world.grades, world.meets, train)
    scores = score(world, train, found)
    assert list(scores.index) == list(PREDICTORS)
    assert scores[["brier", "log_loss", "auc", "ece"]].notna().all(axis=None)


def test_scores_are_measured_against_the_limit(world, train):
    half = np.full(len(train), 0.5)
    scores = score(world, train, {"half": half, **limit(world, train)})
    reach = brier(world.meets[~train], limit(world, train)[LIMIT][~train])
    assert scores.loc[LIMIT, "to_limit"] == 1
    assert scores.loc["half", "to_limit"] == pytest.approx(0.25 / reach)


def test_an_interval_around_every_true_chance_covers_all(world, train, ours):
    sides = {"lower80": "p_named", "neutral_lower80": "p_neutral"}
    low = {name: world.truth[truth] - 0.01 for name, truth in sides.items()}
    high = {name.replace("lower", "upper"): side + 0.02 for name, side in low.items()}
    sure = replace(ours, frame=ours.frame.assign(**low, **high))
    missed = replace(ours, frame=sure.frame.assign(lower80=1.0))
    scores = score(world, train, {"sure": sure, "missed": missed})
    assert scores.loc["sure", ["coverage", "coverage_neutral"]].tolist() == [1, 1]
    assert scores.loc["missed", ["coverage", "coverage_neutral"]].tolist() == [0, 1]


def test_severity_is_correlated_with_the_truth(world, train, ours):
    scores = score(world, train, {OURS: ours})
    named = list(world.severity.index)
    theirs = np.corrcoef(world.severity, [ours.severity[name] for name in named])[0, 1]
    assert scores.loc[OURS, "severity_r"] == pytest.approx(theirs)


def test_a_table_without_a_truth_has_no_truth_scores(world, train, ours):
    scores = score(world.grades, train, {OURS: ours}, standard=3)
    assert scores.loc[OURS, ["to_limit", "coverage", "severity_r"]].isna().all()
    assert scores.loc[OURS, "brier"] == score(world, train, {OURS: ours}).loc[OURS, "brier"]


def test_our_forecast_is_the_product_s(world, train, ours):
    found = our_forecast(world.grades, world.levels, world.standard, train)[OURS]
    assert found.frame["p_meets_standard"].equals(ours.frame["p_meets_standard"])


def test_one_instructor_has_no_severity_to_correlate():
    world = simulate("B", Size(students=4, tasks=2, instructors=1, lessons=4), seed=0)
    train = world.flights.student < 2
    found = our_forecast(world.grades, world.levels, world.standard, train)
    assert np.isnan(score(world, train, found).loc[OURS, "severity_r"])


@pytest.mark.parametrize(("students", "out"), [(0, 0), (1, 0), (2, 1), (3, 1), (10, 3)])
def test_three_students_in_ten_are_held_out(students, out):
    names = pd.Series([f"S{n}" for n in range(students)] * 2, dtype=str)
    train = held_out(names)
    assert names[~train].nunique() == out
    assert not set(names[~train]) & set(names[train])


# Commands


def test_simulate_writes_the_grades_and_their_truth(tmp_path, capsys):
    out, truth = tmp_path / "grades.csv", tmp_path / "truth.csv"
    sizes = ["--students", 3, "--tasks", 2, "--instructors", 2, "--lessons", 4]
    assert run("simulate", "--world", "C", *sizes, "--out", out, "--truth", truth) == 0
    grades, chances = pd.read_csv(out), pd.read_csv(truth)
    assert f"{len(grades)} grades of 3 students" in capsys.readouterr().out
    assert chances[["student", "lesson"]].equals(grades[["student", "lesson"]])
    assert chances["p_neutral"].between(0, 1).all()


def test_simulate_refuses_an_empty_school(tmp_path, capsys):
    out = tmp_path / "grades.csv"
    assert run("simulate", "--world", "A", "--students", 0, "--out", out) == 2
    assert "at least one" in capsys.readouterr().err
    assert not out.exists()


def test_score_prints_every_predictor_for_a_table(csv, capsys):
    assert run("score", "--data", f"school={csv}") == 0
    printed = capsys.readouterr().out
    assert "school:" in printed
    assert all(name in printed for name in [*PREDICTORS, "gradient boosting", OURS])
    assert LIMIT not in printed


def test_score_prints_json(csv, capsys):
    assert run("score", "--data", f"school={csv}", "--json") == 0
    (scores,) = json.loads(capsys.readouterr().out)["scores"].values()
    assert 0 < scores[OURS]["brier"] < 0.3
    assert scores[OURS]["severity_r"] is None


def test_score_says_when_gradient_boosting_cannot_be_measured(csv, capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, "sklearn", None)
    assert run("score", "--data", f"school={csv}") == 0
    printed = capsys.readouterr().out
    assert "gradient boosting: not measured (scikit-learn is not installed)" in printed


def test_score_names_the_fault_of_a_table(tmp_path, capsys):
    path = tmp_path / "wrong.csv"
    path.write_text("student,task\nS,T\n")
    assert run("score", "--data", f"wrong={path}") == 2
    assert "no column" in capsys.readouterr().err


@pytest.mark.parametrize("rows", [0, 1])
def test_score_needs_two_students(csv, tmp_path, capsys, rows):
    path = tmp_path / "few.csv"
    path.write_text("".join(csv.read_text().splitlines(keepends=True)[: rows + 1]))
    assert run("score", "--data", f"few={path}") == 2
    assert "fewer than two students" in capsys.readouterr().err


def test_score_refuses_a_standard_outside_the_scale(csv, capsys):
    assert run("score", "--data", f"school={csv}", "--levels", 2, "--standard", 3) == 2
    assert "--standard" in capsys.readouterr().err


@pytest.mark.parametrize("option", [("--worlds", "A,D"), ("--data", "grades.csv")])
def test_what_cannot_be_scored_is_told_with_the_usage(option, capsys):
    with pytest.raises(SystemExit):
        run("score", *option)
    assert option[0] in capsys.readouterr().err
