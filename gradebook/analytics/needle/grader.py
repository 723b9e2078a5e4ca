"""Whoever grades: calm mostly, and now and then wild.

A grade is the skill shown plus normal noise of variance 1; a share of the grades has noise of
three times that standard deviation. J. W. Tukey, 'A survey of sampling from contaminated
distributions' (1960), for the two normals and their ratio; F. R. Hampel and others, 'Robust
Statistics' (1986), for the one to ten per cent that routine data have of the second (both from
memory). What one normal cannot say of a grade would be taken for a skill that wanders.
"""

import numpy as np
from scipy.special import ndtr

from gradebook.analytics.needle.floats import Floats

WILD = 9.0
"""Variance of the noise of a wild grade; a calm one's is 1."""


def reaches(margin: Floats, variance: Floats | float, wild: Floats | float) -> Floats:
    """Chance of a grade above a cut that lies `margin` below the mean skill.

    The skill is normal with `variance`; a share `wild` of the grades is wild.
    """
    calm = ndtr(margin / np.sqrt(variance + 1))
    return np.asarray(calm + wild * (ndtr(margin / np.sqrt(variance + WILD)) - calm))


def margin_for(chance: float, variance: float, wild: float) -> float:
    """The margin at which `reaches` says `chance`, a number in (0, 1)."""
    low, high = -400.0, 400.0
    for _ in range(80):
        middle = (low + high) / 2
        if float(reaches(np.asarray(middle), variance, wild)) < chance:
            low = middle
        else:
            high = middle
    return (low + high) / 2
