"""Diagnostics of instructors: planted faults are found, and nobody else is accused."""

from collections import Counter

import numpy as np
import pandas as pd
import pytest
from scipy.stats import linregress, norm

from gradebook.analytics.connections import Link, connect
from gradebook.analytics.instructors import (
    COLUMNS,
    FEW_GRADES,
    InstructorDiagnostics,
    Severity,
    diagnose,
)
from gradebook.analytics.residuals import drift_of, halos, spreads, without_trend

EVEN = ("even-1", "even-2", "even-3")
PLANTED = {"lenient": "severity", "severe": "severity", "middle": "spread", "halo": "halo",
           "drift": "drift"}  # fmt: skip
KINDS = ("severity", "spread", "halo", "drift")
CUTS = np.array([-1.0, 0.0, 1.0])  # grades 0 to 3, the standard at 2
SEEDS = range(8)


def a_school(seed: int, *, faults: bool = True, lessons: int = 50) -> pd.DataFrame:
    """Each of eight instructors gives lessons of six tasks over a year, with a day effect.

    Skills are known, so that z is what a perfect forecast for a neutral instructor leaves. The
    planted faults are those of the design notes: lenient by 1.0, severe by .9, categories
    stretched 2.2 times, one impression in every lesson, and a drift of 1.6.
    """
    generator, rows = np.random.default_rng(seed), []
    for place, name in enumerate((*EVEN, *PLANTED)):
        fault = name if faults else ""
        months = np.arange(lessons) * 12 // lessons
        skill = generator.normal(0, 0.7, (lessons, 6))
        day = generator.normal(0, 0.3, (lessons, 1))
        noise = generator.normal(size=(lessons, 6))
        if fault == "halo":
            noise = 0.8 * generator.normal(size=(lessons, 1)) + 0.6 * noise
        shift = {"lenient": 1.0, "severe": -0.9}.get(fault, 0.0)
        drift = 1.6 * (months / 11 - 0.5)[:, None] if fault == "drift" else 0.0
        cuts = CUTS * (2.2 if fault == "middle" else 1.0)
        seen = (skill + day + noise + shift + drift)[..., None]
        rows.append(
            pd.DataFrame({
                "instructor": name,
                "student": np.repeat(generator.integers(24, size=lessons), 6),
                "lesson": np.repeat(np.arange(lessons) + lessons * place, 6),
                "month": np.repeat(months, 6),
                "level": (seen > cuts).sum(axis=2).ravel(),
                "z": standardised((seen > cuts).sum(axis=2), skill).ravel(),
            })
        )  # fmt: skip
    return pd.concat(rows, ignore_index=True)


def standardised(levels: np.ndarray, skill: np.ndarray) -> np.ndarray:
    """Grades less what a neutral instructor would be expected to give, over its deviation."""
    above = norm.sf((CUTS - skill[..., None]) / np.sqrt(1 + 0.3**2))
    expected = above.sum(axis=2)
    variance = (above * np.array([1, 3, 5])).sum(axis=2) - expected**2
    return (levels - expected) / np.sqrt(variance)


def rough_severities(grades: pd.DataFrame) -> dict[str, tuple[float, float]]:
    """A stand-in for the fitted ones: the mean residual, turned, and its error over lessons."""
    lessons = grades.groupby(["instructor", "lesson"])["z"].mean().groupby("instructor")
    found = pd.DataFrame({"value": -lessons.mean(), "error": lessons.sem()})
    return {str(name): (row.value, row.error) for name, row in found.iterrows()}


def diagnosed(grades: pd.DataFrame) -> dict[str, InstructorDiagnostics]:
    found = diagnose(grades, rough_severities(grades), 4)
    return {one.instructor: one for one in found}


def flags(seeds: range, *, faults: bool) -> Counter[tuple[str, str]]:
    return Counter(
        (name, kind)
        for seed in seeds
        for name, one in diagnosed(a_school(seed, faults=faults)).items()
        for kind in KINDS
        if getattr(one, kind).flagged
    )


def test_planted_faults_are_found_and_those_who_grade_evenly_are_left_alone():
    found = flags(SEEDS, faults=True)
    for name, kind in PLANTED.items():
        assert found[name, kind] >= 7, (name, kind)
    assert sum(found[name, kind] for name in EVEN for kind in KINDS) <= 4  # of 96


def test_a_school_without_faults_is_hardly_ever_accused():
    assert sum(flags(SEEDS, faults=False).values()) <= 4  # of 256


def test_each_finding_points_the_right_way():
    found = diagnosed(a_school(1))
    assert found["severe"].severity.estimate.low > 0 > found["lenient"].severity.estimate.high
    assert found["middle"].spread.estimate.high < 0
    assert found["middle"].middle.low > found["middle"].middle.school
    assert found["halo"].halo.estimate.low > 0
    assert found["drift"].drift.estimate.low > 0
    assert (found["severe"].fitted.notable, found["even-1"].fitted.notable) == (True, False)


def test_the_same_grades_give_the_same_findings_in_any_order():
    grades = a_school(2, lessons=10)
    shuffled = grades.sample(frac=1, random_state=3)
    for one, other in zip(
        diagnosed(grades).values(), diagnosed(shuffled).values(), strict=True
    ):
        for kind in KINDS:
            value = getattr(one, kind).estimate.value
            assert getattr(other, kind).estimate.value == pytest.approx(value, abs=1e-9)


def test_few_grades_flag_nothing():
    grades = a_school(1)
    kept = grades[(grades["instructor"] != "severe") | (grades["lesson"] % 50 < 4)]
    severe = diagnosed(kept)["severe"]
    assert severe.grades == 24 < FEW_GRADES
    assert severe.few
    assert not any(getattr(severe, kind).flagged for kind in KINDS)


@pytest.mark.parametrize("n", [0, 1, 2])
def test_hardly_any_grades_say_so_and_do_not_crash(n):
    found = diagnose(a_school(1).head(n), {}, 4)
    assert len(found) == min(n, 1)
    for one in found:
        assert one.few
        for kind in KINDS:
            assert getattr(one, kind).estimate.value is None
            assert getattr(one, kind).estimate.why


def test_one_instructor_alone_has_nobody_to_be_compared_with():
    grades = a_school(1)
    (one,) = diagnose(grades[grades["instructor"] == "drift"], {}, 4)
    assert (one.spread.p, one.halo.p, one.severity.p) == (None, None, None)
    assert one.drift.flagged


def test_a_scale_of_two_levels_has_no_middle():
    grades = a_school(1, lessons=6).assign(level=1)
    assert {one.middle for one in diagnose(grades, {}, 2)} == {None}


@pytest.mark.parametrize(
    ("value", "error", "clear", "notable"),
    [
        (0.9, 0.2, True, True),
        (0.4, 0.1, True, False),
        (0.9, 0.6, False, False),
        (-0.9, 0.2, True, True),
    ],
)
def test_severity_is_clear_when_its_interval_leaves_zero_out(value, error, clear, notable):
    found = Severity(value, error)
    assert (found.clear, found.notable) == (clear, notable)
    low, high = found.interval(0.8)
    assert (low, high) == pytest.approx(norm.interval(0.8, value, error))


def test_drift_is_the_slope_of_the_lesson_means():
    grades = a_school(4)
    rows = grades[grades["instructor"] == "drift"]
    means = rows.groupby("lesson").agg(z=("z", "mean"), month=("month", "first"))
    theirs = linregress(means["month"], means["z"])
    estimate, p = drift_of(rows)
    assert (estimate.value, p) == pytest.approx((theirs.slope, theirs.pvalue))
    assert estimate.high - estimate.value == pytest.approx(2.0106 * theirs.stderr, rel=1e-3)


def test_drift_is_not_told_from_one_month_or_four_lessons():
    rows = a_school(1, lessons=4)
    assert "Fewer than 5" in drift_of(rows[rows["instructor"] == "halo"])[0].why
    assert "one month" in drift_of(a_school(1, lessons=5).assign(month=3))[0].why


def test_halo_is_the_mean_product_of_pairs_less_the_schools():
    by_hand = {"a": [(1.0, 2.0, -1.0)] * 5, "b": [(1.0, 1.0)] * 5}
    frames = {
        name: pd.DataFrame(
            [(f"{name}{at}", z) for at, lesson in enumerate(lessons) for z in lesson],
            columns=["lesson", "z"],
        )
        for name, lessons in by_hand.items()
    }
    # a: (2 - 1 - 2) / 3 pairs a lesson; b: 1 / 1; together (5 * -1 + 5 * 1) / 20 = 0
    found = halos(frames)
    assert found["a"][0].value == pytest.approx(-1 / 3)
    assert found["b"][0].value == pytest.approx(1)
    assert found["b"][1] < 0.01 < found["a"][1]  # a deal of ten lessons that good: 1 in 252


def test_spread_is_the_variance_less_the_median_of_the_others():
    frames = {
        name: pd.DataFrame({"lesson": range(6), "z": [size, -size] * 3})
        for name, size in (("a", 1.0), ("b", 2.0), ("c", 3.0), ("d", 9.0))
    }
    found = {name: one.value for name, (one, _) in spreads(frames).items()}
    assert found == {"a": 1 - 9, "b": 4 - 9, "c": 9 - 4, "d": 81 - 4}


def test_what_is_left_without_trend_has_neither_mean_nor_slope():
    rows = a_school(1)
    left = without_trend(rows[rows["instructor"] == "drift"])
    fit = linregress(rows.loc[rows["instructor"] == "drift", "month"], left["z"])
    assert (fit.slope, fit.intercept) == pytest.approx((0, 0), abs=1e-12)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda grades: grades.drop(columns="z"), "missing: z"),
        (lambda grades: grades.assign(z=np.nan), "finite"),
        (lambda grades: grades.assign(level=4), "outside 0 to 3"),
    ],
)
def test_a_table_that_cannot_be_diagnosed_is_refused(change, words):
    with pytest.raises(ValueError, match=words):
        diagnose(change(a_school(1, lessons=1)), {}, 4)


def taught(*pairs: tuple[str, str, int]) -> pd.DataFrame:
    rows = [(who, student) for who, student, grades in pairs for _ in range(grades)]
    return pd.DataFrame(rows, columns=["instructor", "student"])


def test_instructors_without_a_shared_student_cannot_be_compared():
    found = connect(taught(("ana", "s1", 30), ("ben", "s1", 30), ("cleo", "s2", 30)))
    assert found.groups == (("ana", "ben"), ("cleo",))
    assert found.weak == ()
    assert found.comparable("ana", "ben")
    assert not found.comparable("ana", "cleo")


def test_a_link_of_few_shared_grades_is_weak_unless_a_stronger_chain_goes_round_it():
    thin = taught(("ana", "s1", 40), ("ben", "s1", 19), ("ben", "s2", 30), ("cleo", "s2", 20))
    assert connect(thin).weak == (Link("ana", "ben", 19),)
    round_it = taught(("ana", "s3", 25), ("cleo", "s3", 25))
    assert connect(pd.concat([thin, round_it])).weak == ()


def test_nobody_and_one_alone_have_no_links():
    assert connect(taught()).groups == ()
    assert connect(taught(("ana", "s1", 1))).groups == (("ana",),)
    assert connect(taught(("ana", "s1", 1), ("ben", "s1", 1))).weak == (Link("ana", "ben", 1),)


def test_the_columns_are_those_the_school_gives():
    assert tuple(a_school(1, lessons=1).columns) == COLUMNS
