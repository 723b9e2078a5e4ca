"""Scores of forecasts: a worked example, scikit-learn on random inputs, few rows."""

from math import isnan

import numpy as np
import pytest
from sklearn.metrics import brier_score_loss, roc_auc_score
from sklearn.metrics import log_loss as sklearn_log_loss

from gradebook.analytics.metrics import (
    auc,
    brier,
    brier_parts,
    calibration_error,
    coverage,
    log_loss,
    reliability,
)

# Five forecasts, ten rows each, with 1 2 6 7 9 events; values worked out by hand.
FORECAST = np.repeat([0.1, 0.3, 0.5, 0.7, 0.9], 10)
MEETS = np.concatenate([np.arange(10) < events for events in (1, 2, 6, 7, 9)])


@pytest.fixture(params=range(5))
def random_rows(request):
    rng = np.random.default_rng(request.param)
    forecast = np.round(rng.random(200), request.param % 3 + 1)
    return rng.random(200) < forecast, forecast


def test_the_worked_example_has_its_brier_score_and_parts():
    parts = brier_parts(MEETS, FORECAST)
    assert brier(MEETS, FORECAST) == pytest.approx(0.162)
    assert parts.reliability == pytest.approx(0.004)
    assert parts.resolution == pytest.approx(0.092)
    assert parts.uncertainty == pytest.approx(0.25)


def test_the_worked_example_is_off_by_four_hundredths_on_average():
    # |.1-.1| + |.2-.3| + |.6-.5| + 0 + 0 over five bins of equal count
    assert calibration_error(MEETS, FORECAST, 5) == pytest.approx(0.04)


def test_brier_agrees_with_scikit_learn(random_rows):
    assert brier(*random_rows) == pytest.approx(brier_score_loss(*random_rows))


def test_log_loss_agrees_with_scikit_learn(random_rows):
    meets, forecast = random_rows
    theirs = sklearn_log_loss(meets, np.clip(forecast, 1e-6, 1 - 1e-6))
    assert log_loss(meets, forecast) == pytest.approx(theirs)


def test_auc_agrees_with_scikit_learn_when_forecasts_tie(random_rows):
    assert auc(*random_rows) == pytest.approx(roc_auc_score(*random_rows))


def test_the_parts_add_up_to_the_score(random_rows):
    parts = brier_parts(*random_rows)
    whole = parts.reliability - parts.resolution + parts.uncertainty
    assert whole == pytest.approx(brier(*random_rows))


def test_a_forecast_that_was_certain_and_wrong_costs_much_but_not_everything():
    assert log_loss([True], [0.0]) == pytest.approx(-np.log(1e-6))


def test_forecasts_in_random_order_and_in_sorted_order_have_one_calibration_error():
    order = np.random.default_rng(0).permutation(50)
    assert calibration_error(MEETS[order], FORECAST[order]) == pytest.approx(
        calibration_error(MEETS, FORECAST)
    )


def test_reliability_says_of_each_bin_how_many_came_true_of_how_many():
    n, met = [0, 10, 0, 10, 0, 10, 0, 10, 0, 10], [0, 1, 0, 2, 0, 6, 0, 7, 0, 9]
    bins = reliability(n, met, [10 * (at + 0.5) / 10 for at in range(10)])
    assert [(one.n, one.met) for one in bins] == list(zip(n, met, strict=True))
    assert [(one.low, one.high) for one in bins[3:5]] == [(0.3, 0.4), (0.4, 0.5)]
    assert [one.forecast for one in bins if one.n] == pytest.approx(
        [0.15, 0.35, 0.55, 0.75, 0.95]
    )


def test_reliability_carries_the_wilson_interval():
    # 15 of 148: Newcombe, Statistics in Medicine 17 (1998) 857-872
    (one,) = reliability([148], [15], [148 * 0.35])
    assert (one.at_least, one.at_most) == pytest.approx((0.0624, 0.1605), abs=5e-5)
    assert one.is_off


def test_an_empty_bin_is_not_off():
    assert not any(one.is_off for one in reliability([0, 0], [0, 0], [0.0, 0.0]))


def test_coverage_counts_the_ends():
    assert coverage([0.2, 0.5, 0.9], [0.2, 0.6, 0.1], [0.4, 0.8, 0.9]) == pytest.approx(2 / 3)


@pytest.mark.parametrize("score", [brier, log_loss, auc, calibration_error])
def test_no_rows_have_no_score(score):
    assert isnan(score([], []))


def test_no_rows_have_no_coverage_and_no_parts():
    assert isnan(coverage([], [], []))
    assert isnan(brier_parts([], []).uncertainty)


@pytest.mark.parametrize("met", [True, False])
def test_one_outcome_alone_tells_nothing_apart(met):
    assert isnan(auc([met, met], [0.2, 0.7]))


@pytest.mark.parametrize("forecast", [[0.5, 0.5], [1.2], [float("nan")]])
def test_what_is_no_forecast_of_the_rows_is_refused(forecast):
    with pytest.raises(ValueError, match=r"forecast"):
        brier([True], forecast)


def test_an_interval_is_needed_for_every_value():
    with pytest.raises(ValueError, match="interval"):
        coverage([0.5], [0.1, 0.2], [0.5, 0.6])
