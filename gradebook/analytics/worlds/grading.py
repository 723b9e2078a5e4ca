"""How skill becomes a grade in a simulated school: severity, spread, noise, habit."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import expit, ndtr

from gradebook.analytics.needle.floats import Floats, Ints

LEVELS = 4
STANDARD = 3
STEPS = np.array([-1.4, 0.0, 1.4])
SEVERITY_SD = 0.5
SPREAD_SD = 0.25

Noise = Literal["normal", "logistic", "t4"]


def t4_cdf(x: Floats) -> Floats:
    """Distribution function of Student's t with 4 degrees of freedom, in closed form."""
    share = x / np.sqrt(4 + x * x)
    return 0.5 + 0.75 * (share - share * share * share / 3)


CDF: dict[Noise, Callable[[Floats], Floats]] = {
    "normal": ndtr,
    "logistic": expit,
    "t4": t4_cdf,
}


@dataclass(frozen=True, slots=True, eq=False)
class Grading:
    """Grades 1-4 of a skill; 3 is the standard, met by a skill of 0 half the time.

    `severity` and `spread` have shape (instructors,): the first shifts all steps, the second
    moves the outer ones apart (over 1: central tendency). `scale` stretches the noise. A share
    `habit` of all grades is the standard, whatever was flown.
    """

    severity: Floats
    spread: Floats
    noise: Noise
    scale: float
    habit: float = 0.0

    def meets(self, skill: Floats, severity: Floats | float = 0.0) -> Floats:
        """Probability of the standard or better; arguments broadcast."""
        return self._at_least(np.asarray(skill - severity))

    def chance(self, grade: Ints, skill: Floats, instructor: Ints) -> Floats:
        """Probability of just this grade.

        `grade` and `instructor` have shape (rows,), `skill` (rows, ...); so has the answer.
        """
        widen = (slice(None), *[None] * (skill.ndim - 1))
        edges = np.concatenate(([-np.inf], STEPS, [np.inf]))
        spread = self.spread[instructor]
        low = (self.severity[instructor] + edges[grade - 1] * spread)[widen]
        high = (self.severity[instructor] + edges[grade] * spread)[widen]
        plain = self._cdf(skill - low) - self._cdf(skill - high)
        habit: Floats = self.habit * (grade == STANDARD)[widen]
        return (1 - self.habit) * plain + habit

    def draw(self, skill: Floats, instructor: Ints, rng: np.random.Generator) -> Ints:
        """A grade per row; all of shape (rows,)."""
        noise = _draw(self.noise, len(skill), rng)
        seen = skill - self.severity[instructor] + self.scale * noise
        steps = STEPS * self.spread[instructor][:, None]
        grade = 1 + (seen[:, None] > steps).sum(axis=1)
        return np.where(rng.random(len(skill)) < self.habit, STANDARD, grade)

    def _cdf(self, x: Floats) -> Floats:
        bounded = np.clip(x / self.scale, -1e6, 1e6)
        return np.asarray(CDF[self.noise](bounded))

    def _at_least(self, margin: Floats) -> Floats:
        return (1 - self.habit) * self._cdf(margin) + self.habit


def _draw(noise: Noise, count: int, rng: np.random.Generator) -> Floats:
    if noise == "normal":
        return rng.standard_normal(count)
    if noise == "logistic":
        return rng.logistic(size=count)
    return rng.standard_t(4, count)


def draw_grading(
    instructors: int,
    noise: Noise,
    scale: float,
    rng: np.random.Generator,
    habit: float = 0.0,
) -> Grading:
    """Instructors of a school: severity sums to zero, spread is log-normal about 1."""
    severity = rng.normal(0, SEVERITY_SD, instructors)
    spread = np.exp(rng.normal(0, SPREAD_SD, instructors))
    return Grading(severity - severity.mean(), spread, noise, scale, habit)
