"""Agreement of raters against published tables and independent libraries."""

import krippendorff
import numpy as np
import pandas as pd
import pytest
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.inter_rater import fleiss_kappa as their_fleiss

from gradebook.analytics.agreement import (
    Level,
    krippendorff_alpha,
    marginals,
    raw_agreement,
)
from gradebook.analytics.icc import FORMS, intraclass_correlations, mean_squares
from gradebook.analytics.kappa import (
    Weights,
    cross_table,
    fleiss_counts,
    fleiss_kappa,
    weighted_kappa,
)


def table(text: str) -> np.ndarray:
    """Rows of numbers, `.` for a blank."""
    rows = text.replace(".", "nan").splitlines()
    return np.array([row.split() for row in rows], dtype=float)


# Krippendorff 2011, from memory: 4 observers, 12 units
OBSERVERS = table(
    "1 2 3 3 2 1 4 1 2 . . .\n"
    "1 2 3 3 2 2 4 1 2 5 . 3\n"
    ". 3 3 3 2 3 4 2 2 5 1 .\n"
    "1 2 3 3 2 4 4 1 2 5 1 ."
).T
# ten subjects, fourteen raters, five categories, in common use (from memory)
SUBJECTS = table(
    "0 0 0 0 14\n0 2 6 4 2\n0 0 3 5 6\n0 3 9 2 0\n2 2 8 1 1\n"
    "7 7 0 0 0\n3 2 6 3 0\n2 5 3 2 2\n6 5 2 1 0\n0 2 2 3 7"
)
# Shrout & Fleiss 1979: 6 targets, 4 judges (from memory)
TARGETS = table("9 2 5 8\n6 1 3 2\n8 4 6 8\n7 1 2 6\n10 5 6 9\n6 2 4 7")
# Landis & Koch 1977: diagnoses of the Winnipeg patients, Certain to Doubtful (from memory)
WINNIPEG = table("38 5 0 1\n33 11 3 0\n10 14 5 6\n3 7 3 10")
SAME = np.full((6, 3), 2.0)
ONE_RATER = np.array([[1.0], [2.0], [3.0]])


def random_ratings(seed: int, blank: float = 0.25) -> np.ndarray:
    generator = np.random.default_rng(seed)
    ratings = generator.integers(1, 6, (generator.integers(6, 15), generator.integers(2, 6)))
    return np.where(generator.random(ratings.shape) < blank, np.nan, ratings.astype(float))


@pytest.mark.parametrize(
    ("level", "alpha"),
    [
        (Level.NOMINAL, 0.743),
        (Level.ORDINAL, 0.815),
        (Level.INTERVAL, 0.849),
        (Level.RATIO, 0.797),
    ],
)
def test_alpha_of_krippendorffs_example(level, alpha):
    found = krippendorff_alpha(OBSERVERS, level)
    assert found.value == pytest.approx(alpha, abs=5e-4)
    assert found.low < found.value < found.high <= 1


@pytest.mark.parametrize("level", Level)
@pytest.mark.parametrize("seed", range(8))
def test_alpha_agrees_with_the_krippendorff_package(level, seed):
    ratings = random_ratings(seed)
    theirs = krippendorff.alpha(ratings.T, level_of_measurement=level.value)
    assert krippendorff_alpha(ratings, level, draws=2).value == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize("level", [Level.NOMINAL, Level.ORDINAL])
def test_alpha_below_interval_level_knows_only_the_order(level):
    stretched = np.exp(OBSERVERS)
    assert krippendorff_alpha(stretched, level) == krippendorff_alpha(OBSERVERS, level)


def test_the_interval_is_that_of_units_drawn_again():
    generator = np.random.default_rng(7)
    drawn = [
        krippendorff.alpha(OBSERVERS[generator.integers(12, size=12)].T,
                           level_of_measurement="interval")
        for _ in range(800)
    ]  # fmt: skip
    found = krippendorff_alpha(OBSERVERS, Level.INTERVAL)
    assert found.low == pytest.approx(np.quantile(drawn, 0.025), abs=0.05)
    assert found.high == pytest.approx(np.quantile(drawn, 0.975), abs=0.02)
    assert found == krippendorff_alpha(OBSERVERS, Level.INTERVAL)


@pytest.mark.parametrize(
    ("ratings", "why"),
    [
        (np.empty((0, 3)), "Fewer than two units"),
        (np.array([[1.0, 2.0]]), "Fewer than two units"),
        (ONE_RATER, "Fewer than two units"),
        (SAME, "the same"),
    ],
)
def test_alpha_says_why_it_has_no_value(ratings, why):
    found = krippendorff_alpha(ratings, Level.ORDINAL)
    assert (found.value, found.low, found.high) == (None, None, None)
    assert why in found.why


def test_alpha_of_two_units_has_no_interval():
    found = krippendorff_alpha(np.array([[1.0, 1.0], [2.0, 2.0]]), Level.ORDINAL)
    assert (found.value, found.low) == (1, None)
    assert found.why == "An interval needs 5 units, not 2."


def test_one_odd_grade_is_too_few_for_an_interval():
    ratings = np.ones((12, 2))
    ratings[0, 0] = 2
    found = krippendorff_alpha(ratings, Level.NOMINAL)
    assert found.value == pytest.approx(0)
    assert (found.low, found.why) == (None, "Too few grades differ for an interval.")


def test_a_grade_below_zero_is_refused_on_a_ratio_scale():
    with pytest.raises(ValueError, match="below 0"):
        krippendorff_alpha(-TARGETS, Level.RATIO)


def test_an_infinite_grade_is_refused():
    with pytest.raises(ValueError, match="finite"):
        krippendorff_alpha(np.full((3, 2), np.inf), Level.INTERVAL)


def test_the_share_of_equal_pairs_and_the_marginals_stand_beside():
    raw = raw_agreement(np.array([[1, 1, 2], [2, 2, np.nan], [3, np.nan, np.nan]]))
    assert (raw.equal, raw.pairs, raw.share) == (2, 4, 0.5)
    assert raw_agreement(ONE_RATER).share is None
    values, counts = marginals(OBSERVERS)
    assert values.tolist() == [1, 2, 3, 4, 5]
    assert counts.tolist() == [
        [3, 3, 2, 1, 0], [2, 4, 3, 1, 1], [1, 3, 4, 1, 1], [3, 3, 2, 2, 1],
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("weights", "kappa"),
    [(Weights.UNWEIGHTED, 0.2079), (Weights.LINEAR, 0.3797), (Weights.QUADRATIC, 0.5246)],
)
def test_kappa_of_the_winnipeg_patients(weights, kappa):
    # computed with vcd and statsmodels
    assert weighted_kappa(WINNIPEG, weights).value == pytest.approx(kappa, abs=5e-5)


@pytest.mark.parametrize(
    ("weights", "theirs"),
    [(Weights.UNWEIGHTED, None), (Weights.LINEAR, "linear"), (Weights.QUADRATIC, "quadratic")],
)
@pytest.mark.parametrize("seed", range(5))
def test_kappa_and_its_interval_agree_with_statsmodels(weights, theirs, seed):
    counts = np.random.default_rng(seed).integers(1, 12, (4, 4))
    expected = cohens_kappa(counts, wt=theirs)
    ours = weighted_kappa(counts.astype(float), weights)
    assert ours.value == pytest.approx(expected.kappa)
    assert (ours.low, ours.high) == pytest.approx((expected.kappa_low, expected.kappa_upp))


def test_kappa_by_scores_counts_a_narrow_step_as_a_lesser_fault():
    confused = table("5 2 0\n0 5 0\n0 0 5")
    even = weighted_kappa(confused, Weights.LINEAR, np.array([1.0, 2.0, 3.0]))
    narrow = weighted_kappa(confused, Weights.LINEAR, np.array([1.0, 2.0, 9.0]))
    assert even == weighted_kappa(confused, Weights.LINEAR)
    assert narrow.value > even.value


def test_pairs_leave_out_units_with_a_blank():
    crossed = cross_table(OBSERVERS[:, 0], OBSERVERS[:, 1], np.arange(1.0, 6))
    assert crossed.sum() == 9
    assert np.trace(crossed) == 8


@pytest.mark.parametrize(
    ("counts", "why"),
    [
        (np.zeros((3, 3)), "Fewer than two units"),
        (np.zeros((0, 0)), "Fewer than two units"),
        (table("0 1\n0 0"), "Fewer than two units"),
        (table("9 0\n0 0"), "the same"),
    ],
)
@pytest.mark.parametrize("weights", Weights)
def test_kappa_says_why_it_has_no_value(counts, why, weights):
    found = weighted_kappa(counts, weights)
    assert found.value is None
    assert why in found.why


def test_full_agreement_has_no_large_sample_interval():
    found = weighted_kappa(np.diag([3.0, 4.0, 5.0]), Weights.LINEAR)
    assert (found.value, found.low) == (1, None)
    assert found.why


def test_fleiss_kappa_of_the_ten_subjects():
    found = fleiss_counts(SUBJECTS)
    assert found.value == pytest.approx(0.2099, abs=5e-5)
    assert 0 < found.low < 0.2099 < found.high


@pytest.mark.parametrize("seed", range(5))
def test_fleiss_kappa_agrees_with_statsmodels(seed):
    counts = np.random.default_rng(seed).multinomial(6, [0.2, 0.5, 0.2, 0.1], size=12)
    assert fleiss_counts(counts.astype(float)).value == pytest.approx(their_fleiss(counts))


def test_the_interval_of_fleiss_kappa_covers_as_often_as_it_says():
    # two kinds of unit, known chances: kappa = (pa - pe) / (1 - pe) by the definition
    chances = np.array([[0.7, 0.2, 0.1], [0.1, 0.3, 0.6]])
    pooled = chances.mean(axis=0)
    pa, pe = (chances**2).sum(axis=1).mean(), (pooled**2).sum()
    generator = np.random.default_rng(3)
    hits = 0
    for _ in range(200):
        kinds = generator.integers(2, size=60)
        found = fleiss_counts(generator.multinomial(4, chances[kinds]).astype(float))
        hits += found.low < (pa - pe) / (1 - pe) < found.high
    assert 0.9 <= hits / 200 <= 0.98


@pytest.mark.parametrize(
    ("ratings", "why"),
    [
        (np.empty((0, 3)), "Fewer than two units"),
        (np.array([[1.0, 2.0]]), "Fewer than two units"),
        (ONE_RATER, "not two raters"),
        (OBSERVERS, "Not every rater"),
        (SAME, "the same"),
    ],
)
def test_fleiss_kappa_and_icc_say_why_they_have_no_value(ratings, why):
    for found in (fleiss_kappa(ratings), *intraclass_correlations(ratings).values()):
        assert (found.value, found.low, found.high) == (None, None, None)
        assert why in found.why


def test_counts_of_unequal_size_are_refused():
    with pytest.raises(ValueError, match="same number"):
        fleiss_counts(table("2 1\n1 1"))


def test_the_six_intraclass_correlations_of_shrout_and_fleiss():
    found = intraclass_correlations(TARGETS)
    values = [found[form].value for form in FORMS]
    assert values == pytest.approx([0.1657, 0.2898, 0.7148, 0.4428, 0.6201, 0.9093], abs=5e-5)
    # ends as the R package psych prints them for this table, from memory
    ends = {
        "(1,1)": (-0.133, 0.723),
        "(2,1)": (0.019, 0.761),
        "(3,1)": (0.342, 0.946),
        "(1,k)": (-0.884, 0.912),
        "(2,k)": (0.071, 0.927),
        "(3,k)": (0.676, 0.986),
    }
    for form, both in ends.items():
        assert (found[form].low, found[form].high) == pytest.approx(both, abs=6e-4)


@pytest.mark.parametrize("seed", range(4))
def test_mean_squares_agree_with_statsmodels(seed):
    ratings = random_ratings(seed, blank=0)
    target, judge = (place.ravel() for place in np.indices(ratings.shape))
    long = pd.DataFrame({"target": target, "judge": judge, "grade": ratings.ravel()})
    anova = anova_lm(ols("grade ~ C(target) + C(judge)", long).fit())["mean_sq"]
    ours = mean_squares(ratings)
    assert (ours.targets, ours.judges, ours.error) == pytest.approx(tuple(anova))
    one_way = anova_lm(ols("grade ~ C(target)", long).fit())["mean_sq"]
    assert ours.within == pytest.approx(one_way["Residual"])


def test_the_intervals_of_icc_cover_as_often_as_they_say():
    # targets, judges and error all of variance 1: (2,1) is 1/3, (3,1) is 1/2
    generator, hits = np.random.default_rng(5), {"(2,1)": 0, "(3,1)": 0}
    for _ in range(200):
        parts = generator.normal(size=(15, 1)), generator.normal(size=(1, 8))
        found = intraclass_correlations(parts[0] + parts[1] + generator.normal(size=(15, 8)))
        for form, truth in (("(2,1)", 1 / 3), ("(3,1)", 1 / 2)):
            hits[form] += found[form].low < truth < found[form].high
    assert all(0.9 <= hit / 200 <= 0.985 for hit in hits.values())


def test_severity_counts_in_absolute_agreement_only():
    found = intraclass_correlations(np.add.outer([1.0, 2, 3, 4], [0.0, 1.0]))
    assert found["(3,1)"].value == 1
    assert found["(2,1)"].value == pytest.approx(10 / 13)  # by the mean squares 10/3, 2, 0
    assert found["(3,1)"].low is None
    assert "No rating error" in found["(3,1)"].why


def test_two_units_that_two_raters_turn_around_do_not_crash():
    for found in intraclass_correlations(np.array([[1.0, 2.0], [2.0, 1.0]])).values():
        assert found.value is None
        assert found.why
