"""Rates of few trials, drawn towards what the whole school shows (empirical Bayes)."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf, log

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize
from scipy.special import gammaln, ndtri, psi

from gradebook.analytics.betabinomial import BOUND, modes

Floats = NDArray[np.float64]
_BOUNDS = ((-BOUND, BOUND), (-BOUND, BOUND))


@dataclass(frozen=True, slots=True)
class LogPrior:
    """Where two parameters lie before any data: independent normals of their logarithms."""

    first: float
    second: float
    spread: float

    def slope(self, logs: Floats) -> tuple[float, Floats]:
        """Log density, up to a constant, and its gradient."""
        away = (logs - np.log([self.first, self.second])) / self.spread
        return -float(away @ away) / 2, -away / self.spread


# Our judgement, not measured: an error is made in about 6 of 100 opportunities, and 8 or 9
# opportunities of a student's own weigh as much as the school.
ERROR_PRIOR = LogPrior(0.5, 8.0, 1.0)
# Likewise: about one event in two hours, and an hour or so weighs as much as the school.
COUNT_PRIOR = LogPrior(0.5, 1.0, 1.5)


@dataclass(frozen=True, slots=True)
class Beta:
    """Rates of a school: a beta distribution; `a` marks and `b` clean ones say as much."""

    a: float
    b: float

    @property
    def mean(self) -> float:
        """Mean rate, 0-1."""
        return self.a / (self.a + self.b)


@dataclass(frozen=True, slots=True)
class Gamma:
    """Rates per unit of time of a school: a gamma distribution of shape and rate."""

    shape: float
    rate: float

    @property
    def mean(self) -> float:
        """Mean events per unit of time."""
        return self.shape / self.rate


def fit_beta(
    marks: ArrayLike, opportunities: ArrayLike, prior: LogPrior | None = ERROR_PRIOR
) -> Beta:
    """Distribution of the students' rates, from marks[i] of opportunities[i] of student i.

    The mode of the beta-binomial likelihood times the prior on log a and log b. Without data it
    is the prior's centre, and with few near it. `prior=None` is plain maximum likelihood: then
    rates that do not differ between students end at a bound. Whole numbers; ValueError unless
    0 <= marks <= opportunities. Source: common practice; the likelihood is J. G. Skellam's,
    Journal of the Royal Statistical Society B 10 (1948) 257-261 (from memory).
    """
    x, n = (np.asarray(one, dtype=np.int64) for one in (marks, opportunities))
    if x.ndim != 1 or n.ndim != 1:
        raise ValueError("Marks and their opportunities are one for each student.")
    return fit_betas(x[:, None], n[:, None], prior)[0]


def fit_betas(
    marks: ArrayLike, opportunities: ArrayLike, prior: LogPrior | None = ERROR_PRIOR
) -> list[Beta]:
    """`fit_beta` of every column of marks[i, e] of opportunities[i, e], all at once."""
    x, n = (np.asarray(one, dtype=np.int64) for one in (marks, opportunities))
    if x.shape != n.shape or not ((x >= 0) & (x <= n)).all():
        raise ValueError("Marks lie between 0 and their opportunities.")
    known = prior or replace(ERROR_PRIOR, spread=inf)
    found = np.exp(modes(x, n, np.log([known.first, known.second]), known.spread))
    return [Beta(a, b) for a, b in found.T.tolist()]


def fit_gamma(
    counts: ArrayLike, exposures: ArrayLike, prior: LogPrior | None = COUNT_PRIOR
) -> Gamma:
    """Distribution of rates per unit of time, from counts[i] in exposures[i].

    As `fit_beta`, with the gamma-Poisson (negative binomial) likelihood. ValueError for a
    negative count or exposure, or a count without exposure.
    """
    x, t = (np.asarray(one, dtype=np.float64) for one in (counts, exposures))
    if x.shape != t.shape or not ((x >= 0) & ((t > 0) | ((t == 0) & (x == 0)))).all():
        raise ValueError("A count is not negative and was made in some time.")

    def likelihood(shape: float, rate: float) -> tuple[float, Floats]:
        terms = gammaln(shape + x) - gammaln(shape) - (shape + x) * np.log(rate + t)
        by_shape = psi(shape + x) - psi(shape) - np.log(rate + t) + log(rate)
        by_rate = shape / rate - (shape + x) / (rate + t)
        total = terms.sum() + x.size * shape * log(rate)
        return float(total), np.array([by_shape.sum(), by_rate.sum()])

    return Gamma(*_mode(likelihood, prior, COUNT_PRIOR))


def gamma_means(counts: ArrayLike, exposures: ArrayLike, school: Gamma) -> Floats:
    """Posterior mean rate of each: (count + shape) / (exposure + rate)."""
    x, t = (np.asarray(one, dtype=np.float64) for one in (counts, exposures))
    return (x + school.shape) / (t + school.rate)


def james_stein(values: ArrayLike, variance: float) -> tuple[Floats, float]:
    """Values drawn towards their mean, and the share of each deviation that is kept (0-1).

    All have the same known sampling variance. Fewer than four are left as they are (1). Source:
    B. Efron and C. Morris, 'Stein's paradox in statistics', Scientific American 236 (May 1977)
    119-127 (from memory).
    """
    array = np.asarray(values, dtype=np.float64)
    if array.size < 4:
        return array, 1.0
    away = array - array.mean()
    noise, spread = (array.size - 3) * variance, float(away @ away)
    kept = 1 - noise / spread if spread > noise else 0.0
    return array.mean() + kept * away, kept


@dataclass(frozen=True, slots=True)
class Drawn:
    """A value drawn towards the school's mean, with its standard error."""

    value: float
    error: float

    def interval(self, confidence: float) -> tuple[float, float]:
        """Both ends of the normal interval."""
        reach = float(ndtri((1 + confidence) / 2)) * self.error
        return self.value - reach, self.value + reach


def drawn(values: ArrayLike, errors: ArrayLike) -> tuple[list[Drawn], Drawn]:
    """Values with their standard errors (> 0), each drawn towards their mean; and that mean.

    How far they truly lie apart is what their scatter exceeds their errors by; where it does
    not, all are drawn to the mean. A single value is its own mean. ValueError for none. Source:
    R. DerSimonian and N. Laird, Controlled Clinical Trials 7 (1986) 177-188 (from memory).
    """
    x, e = (np.asarray(one, dtype=np.float64) for one in (values, errors))
    if not x.size or x.shape != e.shape or not (e > 0).all():
        raise ValueError("Every value needs an error above 0.")
    weight = 1 / e**2
    scatter = float(weight @ (x - weight @ x / weight.sum()) ** 2)
    room = float(weight.sum() - weight @ weight / weight.sum())
    apart = max(0.0, (scatter - (x.size - 1)) / room) if x.size > 1 else 0.0
    weight = 1 / (e**2 + apart)
    mean, doubt = float(weight @ x / weight.sum()), 1 / float(weight.sum())
    kept = apart / (apart + e**2)
    error = np.sqrt(kept * e**2 + (1 - kept) ** 2 * doubt)
    pulled = mean + kept * (x - mean)
    each = [Drawn(float(one), float(sd)) for one, sd in zip(pulled, error, strict=True)]
    return each, Drawn(mean, float(np.sqrt(doubt)))


def _mode(
    likelihood: Callable[[float, float], tuple[float, Floats]],
    prior: LogPrior | None,
    start: LogPrior,
) -> tuple[float, float]:
    """Where likelihood times prior is highest, over the logarithms of both parameters."""

    def loss(logs: Floats) -> tuple[float, Floats]:
        here = np.exp(logs)
        total, gradient = likelihood(*here)
        before, slope = prior.slope(logs) if prior else (0.0, np.zeros(2))
        return -total - before, -gradient * here - slope

    centre = prior or start
    begin = np.log([centre.first, centre.second])
    # TNC, not L-BFGS-B: that one's threaded algebra stalls on a busy machine.
    found = minimize(loss, begin, jac=True, method="TNC", bounds=_BOUNDS, tol=1e-10)
    first, second = np.exp(found.x)
    return float(first), float(second)
