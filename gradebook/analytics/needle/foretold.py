"""What a replay foretold: the chance of each grade, and how sharp such chances have to be."""

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import log_ndtr, logsumexp

from gradebook.analytics.needle.floats import Flags, Floats
from gradebook.analytics.needle.log import GradeLog
from gradebook.analytics.needle.outlook import chance_and_interval, probits
from gradebook.analytics.needle.parameters import Parameters
from gradebook.analytics.needle.replay import Replay

SLOPE_DOUBT = 0.05
"""Prior standard deviation of the log of the calibration slope, around 0."""
FARTHEST = 0.5
"""So far from 0 the log of the slope is looked for: ten times its prior standard deviation."""


def chances(
    done: Replay, severity: Floats, doubt: Floats, parameters: Parameters
) -> tuple[Floats, Floats, Floats]:
    """Chance of meeting the standard [N] and its 80 % interval.

    For graders of this severity [N], known with the variance `doubt` [N].
    """
    return chance_and_interval(
        done.weight, done.mean - severity, done.variance + doubt, parameters
    )


def graders(log: GradeLog, parameters: Parameters) -> tuple[Floats, Floats]:
    """Severity of whoever gave each grade, and the variance it is known with [N]."""
    hands = [parameters.hand(name) for name in log.instructors]
    severity = np.array([one.severity for one in hands], float)[log.instructor]
    return severity, np.array([one.error for one in hands], float)[log.instructor] ** 2


def met(log: GradeLog, parameters: Parameters) -> Flags:
    """Whether each grade met the standard [N]."""
    begins = np.array([parameters.cuts[name].index(0.0) + 2 for name in log.scales], int)
    return np.asarray(log.grade >= begins[log.scale[log.task]], bool)


def calibration_slope(done: Replay, parameters: Parameters) -> float:
    """By how much the means of what was foretold have to be stretched to be as sharp as true.

    Above 1: chances were too near a half. D. R. Cox, 'Two further applications of a model for
    binary regression', Biometrika 45 (1958) 562-565, on the probit scale, with a prior that
    keeps it near 1: the grades it is judged on are those the rest was fitted to, which makes
    forecasts look a little too timid. No grade: 1.
    """
    if not len(done.log):
        return 1.0
    severity, doubt = graders(done.log, parameters)
    good = np.where(met(done.log, parameters), 1.0, -1.0)
    mean, variance = done.mean - severity, done.variance + doubt
    far = good * probits(mean, variance, parameters)

    def cost(log_slope: float) -> float:
        each = log_ndtr(np.exp(log_slope) * far)
        fit = logsumexp(each, axis=0, b=done.weight).sum()
        return float(0.5 * (log_slope / SLOPE_DOUBT) ** 2 - fit)

    return float(np.exp(minimize_scalar(cost, bounds=(-FARTHEST, FARTHEST)).x))
