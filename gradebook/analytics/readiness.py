"""The chance of passing a stage check: all its tasks on one day, before one examiner.

Skills share the student's ability, and grades the day; multiplying the tasks' own chances
would forget both. The sum over ability, speed and day is done by quadrature, and what remains
uncertain about the skills is simulated. R. D. Bock and M. Lieberman, Psychometrika 35 (1970)
179-197, for integrating over a shared trait.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from scipy.optimize import minimize
from scipy.special import expit, log_expit, logit, ndtr

from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.outlook import Skill
from gradebook.analytics.needle.parameters import Parameters

ABILITY_NODES, DAY_NODES = 15, 15
DRAWS, SEED = 400, 20_000
ENOUGH_CHECKS = 50
"""Past stage checks needed before the chance is calibrated on them."""
PRIOR_DOUBT = np.array([0.5, 0.25])


@dataclass(frozen=True, slots=True)
class CheckChance:
    """Chance 0-1 that every task of a check meets the standard, with its 80 % interval.

    `separate` is what the product of the tasks' own chances would have said; `grades` are the
    counted grades behind it.
    """

    chance: float
    low: float
    high: float
    separate: float
    tasks: int
    grades: int


@cache
def _nodes(count: int) -> tuple[Floats, Floats]:
    points, weights = hermegauss(count)
    return np.asarray(points), np.asarray(weights / weights.sum())


@dataclass(frozen=True, slots=True)
class Grid:
    """Chances of each task [cells, J] given ability, speed and day, and the weights [cells].

    Given a cell, the tasks are independent.
    """

    chance: Floats
    weight: Floats

    @property
    def all_met(self) -> float:
        """Chance that every task meets the standard; 1 for no task."""
        return float(self.weight @ self.chance.prod(axis=1))


def grid(known: Skill, parameters: Parameters) -> Grid:
    """The chances of every task in every cell of ability, speed and day."""
    a, wa = _nodes(ABILITY_NODES)
    e, we = _nodes(DAY_NODES)
    apart = np.sqrt(known.doubt)[:, None] * a
    sharp = parameters.slope * known.mean
    mean = sharp[:, None, :] + known.loading[:, None, :] * apart[:, :, None]
    day = parameters.spread.day * e
    root = np.sqrt(known.residual + 1)[:, None, None, :]
    chance = ndtr((mean[:, :, None, :] + day[:, None]) / root)
    weight = np.ravel(known.weight[:, None, None] * wa[:, None] * we) / known.weight.sum()
    return Grid(chance.reshape(len(weight), len(known.tasks)), weight)


def check_chance(known: Skill, parameters: Parameters) -> CheckChance:
    """The chance that all tasks of `known` meet the standard on one day.

    No task at all is a sure pass: chance 1. The interval is about the skills: it narrows with
    more grades, not with a calmer day. It reaches as far as the chance, which as a mean can lie
    beyond nine tenths of what it is the mean of.
    """
    cells = grid(known, parameters)
    separate = float((cells.weight @ cells.chance).prod())
    whole = min(1.0, cells.all_met)
    low, high = _interval(known, parameters)
    grades = int(known.attempts.sum())
    ends = min(low, whole), max(high, whole)
    return CheckChance(whole, *ends, separate, len(known.tasks), grades)


def _interval(known: Skill, parameters: Parameters) -> tuple[float, float]:
    random = np.random.default_rng(SEED)
    speed = random.choice(len(known.weight), DRAWS, p=known.weight / known.weight.sum())
    wider = np.sqrt(parameters.widening)
    apart = wider * np.sqrt(known.doubt[speed]) * random.standard_normal(DRAWS)
    noise = wider * random.standard_normal((DRAWS, len(known.tasks)))
    sharp = parameters.slope * known.mean[speed]
    skill = sharp + known.loading[speed] * apart[:, None]
    skill = skill + np.sqrt(known.residual[speed]) * noise
    e, we = _nodes(DAY_NODES)
    day = parameters.spread.day * e
    chance = ndtr(skill[:, None, :] + day[:, None]).prod(axis=2) @ we
    low, high = np.quantile(chance, [0.1, 0.9])
    return float(low), float(high)


@dataclass(frozen=True, slots=True)
class Calibration:
    """What past checks do to the chance: its logit stretched by `slope`, moved by `shift`.

    `checks` is how many there were; fewer than `ENOUGH_CHECKS` change nothing.
    """

    shift: float
    slope: float
    checks: int

    @property
    def enough(self) -> bool:
        """Whether there are enough past checks to calibrate on."""
        return self.checks >= ENOUGH_CHECKS

    def __call__(self, chance: float) -> float:
        """The calibrated chance; the chance itself while there are too few checks."""
        if not self.enough:
            return chance
        clear = np.clip(chance, 1e-6, 1 - 1e-6)
        return float(expit(self.shift + self.slope * logit(clear)))

    def of(self, known: CheckChance) -> CheckChance:
        """A chance with its interval, all calibrated alike."""
        low, chance, high = sorted(map(self, (known.low, known.chance, known.high)))
        return replace(known, chance=chance, low=low, high=high)


UNCALIBRATED = Calibration(0.0, 1.0, 0)
"""No past check: every chance stays as it is."""


def calibrate(chances: Floats, passed: Floats) -> Calibration:
    """Fit shift and slope to past checks [n]: chance given before, passed 0 or 1.

    Penalised logistic regression, shift around 0 (sd .5), slope around 1 (sd .25): J. C. Platt
    (1999) with the identity as prior. No checks at all: the identity.
    """
    x = logit(np.clip(np.asarray(chances, float), 1e-6, 1 - 1e-6))
    y = np.asarray(passed, float)

    def cost(values: Floats) -> float:
        linear = values[0] + values[1] * x
        fit = y * log_expit(linear) + (1 - y) * log_expit(-linear)
        return float(-fit.sum() + 0.5 * (((values - [0, 1]) / PRIOR_DOUBT) ** 2).sum())

    if not len(x):
        return UNCALIBRATED
    found = minimize(cost, np.array([0.0, 1.0]), method="BFGS").x
    return Calibration(float(found[0]), float(found[1]), len(x))
