"""Wilson intervals against statsmodels."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from gradebook.analytics.intervals import wilson


@given(st.integers(1, 300), st.data(), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_wilson_agrees_with_statsmodels(n: int, data: st.DataObject, confidence: float) -> None:
    k = data.draw(st.integers(0, n))
    theirs = proportion_confint(k, n, alpha=1 - confidence, method="wilson")
    assert wilson(k, n, confidence) == pytest.approx(theirs, abs=1e-9)


def test_nothing_tried_says_nothing() -> None:
    assert wilson(0, 0) == (0, 1)


def test_the_ends_stay_inside_zero_and_one() -> None:
    assert wilson(0, 7)[0] == 0
    assert wilson(7, 7)[1] == 1


@pytest.mark.parametrize(("k", "n"), [(-1, 3), (4, 3), (1, 0)])
def test_more_marks_than_chances_are_refused(k: int, n: int) -> None:
    with pytest.raises(ValueError, match="proportion"):
        wilson(k, n)


def test_a_confidence_of_one_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        wilson(1, 2, 1.0)
