"""Logistic regression with a ridge, shared and own coefficients."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit

from gradebook.analytics.needle.floats import Flags, Floats, Ints

SHARED_RIDGE = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Logistic:
    """Coefficients: `shared` (features,) by all groups, `own` (groups, features) on top."""

    shared: Floats
    own: Floats

    def forecast(self, features: Floats, group: Ints) -> Floats:
        """Probability of each row, (rows,)."""
        return np.asarray(expit(_logit(features, group, self.shared, self.own)))


def fit_logistic(
    features: Floats, group: Ints, meets: Flags, groups: int, ridge: float = 1.0
) -> Logistic:
    """Fit by L-BFGS; features (rows, features) include the constant, group is 0 to groups - 1.

    Own coefficients are drawn to 0 by the ridge, so that a group without rows has the shared
    ones; with no rows at all every forecast is one half.
    """
    width = features.shape[1]

    def cost(flat: Floats) -> tuple[float, Floats]:
        shared, own = flat[:width], flat[width:].reshape(groups, width)
        logit = _logit(features, group, shared, own)
        pull = (expit(logit) - meets)[:, None] * features
        by_group = [np.bincount(group, column, groups) for column in pull.T]
        slope = np.concatenate((pull.sum(axis=0), np.stack(by_group, axis=1).ravel()))
        loss = float((np.logaddexp(0, logit) - meets * logit).sum())
        return loss + float(weight @ (flat * flat)) / 2, slope + weight * flat

    weight = np.full(width * (groups + 1), ridge)
    weight[:width] = SHARED_RIDGE
    found = minimize(cost, np.zeros(len(weight)), jac=True, method="L-BFGS-B").x
    return Logistic(found[:width], found[width:].reshape(groups, width))


def _logit(features: Floats, group: Ints, shared: Floats, own: Floats) -> Floats:
    return np.asarray(features @ shared + np.einsum("rf,rf->r", features, own[group]))
