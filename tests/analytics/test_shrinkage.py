"""Rates drawn towards the school's, against published examples and scipy's distributions."""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import betabinom, nbinom, norm

from gradebook.analytics.shrinkage import (
    COUNT_PRIOR,
    ERROR_PRIOR,
    fit_beta,
    fit_betas,
    fit_gamma,
    gamma_means,
    james_stein,
)

# Gaver and O'Muircheartaigh 1987: pump failures in thousands of hours. Fit computed with R.
FAILURES = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22]
HOURS = [94.3, 15.7, 62.9, 125.8, 5.24, 31.4, 1.048, 1.048, 2.096, 10.48]
MEANS = [0.0609, 0.1075, 0.0907, 0.1167, 0.5882, 0.6070, 0.7900, 0.7900, 1.4374, 1.9442]

# Efron and Morris 1975: hits of eighteen batters in 45 tries each.
HITS = [18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7]


def test_pump_failures():
    school = fit_gamma(FAILURES, HOURS, prior=None)
    assert (school.shape, school.rate) == pytest.approx((0.8223, 1.2589), abs=5e-5)
    assert gamma_means(FAILURES, HOURS, school) == pytest.approx(MEANS, abs=5e-5)


def test_batting_averages():
    rates = np.array(HITS) / 45
    mean = rates.mean()
    shrunk, kept = james_stein(rates, mean * (1 - mean) / 45)
    assert (mean, kept) == pytest.approx((0.26543, 0.21165), abs=5e-6)
    assert (shrunk[0], shrunk[-1]) == pytest.approx((0.2939, 0.2422), abs=5e-5)


@pytest.mark.parametrize("values", [[], [0.3], [0.3, 0.1], [0.3, 0.1, 0.2]])
def test_fewer_than_four_values_are_left_as_they_are(values):
    shrunk, kept = james_stein(values, 0.01)
    assert (shrunk.tolist(), kept) == (values, 1)


def test_values_that_differ_by_no_more_than_chance_all_become_their_mean():
    assert james_stein([0.4, 0.5, 0.5, 0.6], 1.0)[0] == pytest.approx([0.5] * 4)
    assert james_stein([0.5] * 4, 0.01) == (pytest.approx([0.5] * 4), 0)


def table(seed, students=80):
    rng = np.random.default_rng(seed)
    opportunities = rng.integers(3, 26, students)
    return rng.binomial(opportunities, rng.beta(1.5, 12, students)), opportunities


@pytest.mark.parametrize("seed", range(3))
def test_the_beta_fit_is_the_maximum_of_scipys_beta_binomial(seed):
    marks, opportunities = table(seed)

    def loss(logs):
        return -betabinom.logpmf(marks, opportunities, *np.exp(logs)).sum()

    theirs = np.exp(minimize(loss, [0, 2], method="Nelder-Mead", tol=1e-9).x)
    ours = fit_beta(marks, opportunities, prior=None)
    assert (ours.a, ours.b) == pytest.approx(theirs, rel=1e-3)


@pytest.mark.parametrize(("marks", "opportunities"), [([1], [3]), ([0, 2, 1], [4, 5, 9])])
def test_with_few_data_the_fit_weighs_them_against_the_prior(marks, opportunities):
    centre = np.log([ERROR_PRIOR.first, ERROR_PRIOR.second])

    def loss(logs):
        likelihood = betabinom.logpmf(marks, opportunities, *np.exp(logs)).sum()
        return -likelihood - norm.logpdf(logs, centre, ERROR_PRIOR.spread).sum()

    theirs = np.exp(minimize(loss, centre, method="Nelder-Mead", tol=1e-9).x)
    ours = fit_beta(marks, opportunities)
    assert (ours.a, ours.b) == pytest.approx(theirs, rel=1e-3)


def test_errors_fitted_together_are_fitted_as_each_alone():
    marks, opportunities = (
        np.column_stack(one) for one in zip(*map(table, range(5)), strict=True)
    )
    opportunities[:, 3] = marks[:, 3] = 0
    marks[:, 4] = 0
    together = fit_betas(marks, opportunities)
    for error, fit in enumerate(together):
        alone = fit_beta(marks[:, error], opportunities[:, error])
        assert (fit.a, fit.b) == pytest.approx((alone.a, alone.b), rel=1e-9)


def test_rates_that_do_not_differ_end_at_a_bound_with_their_own_mean():
    fit = fit_beta([9] * 20, [10] * 20, prior=None)
    assert np.log(fit.a) == pytest.approx(12)
    assert fit.mean == pytest.approx(0.9, abs=1e-5)


def test_the_gamma_fit_is_the_maximum_of_scipys_negative_binomial():
    rng = np.random.default_rng(4)
    hours = rng.uniform(1, 20, 60)
    counts = rng.poisson(rng.gamma(1.2, 1 / 2.5, 60) * hours)

    def loss(logs):
        shape, rate = np.exp(logs)
        return -nbinom.logpmf(counts, shape, rate / (rate + hours)).sum()

    theirs = np.exp(minimize(loss, [0, 0], method="Nelder-Mead", tol=1e-9).x)
    ours = fit_gamma(counts, hours, prior=None)
    assert (ours.shape, ours.rate) == pytest.approx(theirs, rel=1e-3)


@pytest.mark.parametrize(("marks", "opportunities"), [([], []), ([0], [0]), ([0, 0], [0, 0])])
def test_without_data_the_rates_are_the_priors(marks, opportunities):
    school = fit_beta(marks, opportunities)
    assert (school.a, school.b) == pytest.approx((ERROR_PRIOR.first, ERROR_PRIOR.second))
    hourly = fit_gamma(marks, opportunities)
    centre = COUNT_PRIOR.first, COUNT_PRIOR.second
    assert (hourly.shape, hourly.rate) == pytest.approx(centre)


def test_one_clean_opportunity_hardly_moves_the_prior():
    nothing = fit_beta([], []).mean
    assert nothing * 0.8 < fit_beta([0], [1]).mean < nothing


def test_with_many_students_the_prior_hardly_matters():
    marks, opportunities = table(7, students=2000)
    with_prior, without = (fit_beta(marks, opportunities, p) for p in (ERROR_PRIOR, None))
    assert with_prior.mean == pytest.approx(without.mean, rel=0.01)
    assert without.mean == pytest.approx(1.5 / 13.5, rel=0.1)


def test_a_school_without_a_single_mark_has_a_low_rate_and_not_zero():
    assert 0 < fit_beta([0] * 60, [15] * 60).mean < 0.01


@pytest.mark.parametrize(("marks", "opportunities"), [([2], [1]), ([-1], [1]), ([1], [1, 1])])
def test_more_marks_than_opportunities_are_refused(marks, opportunities):
    with pytest.raises(ValueError, match="opportunities"):
        fit_beta(marks, opportunities)


@pytest.mark.parametrize(("counts", "hours"), [([1], [0]), ([-1], [1]), ([1], [-1])])
def test_a_count_made_in_no_time_is_refused(counts, hours):
    with pytest.raises(ValueError, match="time"):
        fit_gamma(counts, hours)
