"""What the grades of one sitting say together, where each is a normal observation.

R. E. Kalman, 'A new approach to linear filtering and prediction problems', Journal of Basic
Engineering 82 (1960) 35-45, for several observations at once: how likely they are together
(`density`), and what each is to be expected beside the others (`predicted`), exactly. All tasks
of a sitting share the student's ability and the mood of the day; given both they are
independent, so two numbers a student are all that must be solved for. What is learnt from them
(`seen`) is kept such that no better grade lowers a skill. Axes: [..., rows] or [..., lanes].
"""

from dataclasses import dataclass

import numpy as np

from gradebook.analytics.needle.floats import Floats, Ints
from gradebook.analytics.needle.steps import Skill

LOG_ROOT_TWO_PI = float(0.5 * np.log(2 * np.pi))


@dataclass(frozen=True, slots=True)
class Group:
    """Which rows belong to which lane: `lane` [rows], `starts` and `size` of its rows [lanes].

    The rows of a lane stand together.
    """

    lane: Ints
    starts: Ints
    size: Floats

    def total(self, rows: Floats) -> Floats:
        """The sum over each lane's rows."""
        return np.add.reduceat(rows, self.starts, axis=-1)

    def spread(self, lanes: Floats) -> Floats:
        """Each lane's value beside its rows."""
        return np.asarray(lanes[..., self.lane])


ALONE = Group(np.zeros(1, np.intp), np.zeros(1, np.intp), np.ones(1))
"""One row of one lane."""


@dataclass(frozen=True, slots=True)
class Shared:
    """What the tasks share: the student's ability and the mood of the day.

    `precision` of ability, `pull` its mean times that; variance `day` of the mood, whose mean
    is 0: each sitting is a day of its own.
    """

    precision: Floats
    pull: Floats
    day: Floats

    def spread(self, group: Group) -> "Shared":
        """The same beside the rows."""
        parts = (self.precision, self.pull, self.day)
        return Shared(*(group.spread(one) for one in parts))


@dataclass(frozen=True, slots=True)
class Evidence:
    """What observations say of ability (a) and mood (e): precisions and linear terms."""

    aa: Floats
    ae: Floats
    ee: Floats
    a: Floats
    e: Floats

    def total(self, group: Group) -> "Evidence":
        """Of all rows of each lane."""
        parts = (self.aa, self.ae, self.ee, self.a, self.e)
        return Evidence(*(group.total(one) for one in parts))

    def of_others(self, group: Group) -> "Evidence":
        """Of the other rows of the same lane, beside each row."""
        parts = (self.aa, self.ae, self.ee, self.a, self.e)
        return Evidence(*(group.spread(group.total(one)) - one for one in parts))


def evidence(skill: Skill, value: Floats, noise: Floats) -> Evidence:
    """What each row says whose skill on that day was seen as `value`, with variance `noise`."""
    offset, loading, residual = skill
    heavy = 1 / (residual + noise)
    off = value - offset
    once, twice = loading * heavy, off * heavy
    return Evidence(loading * once, once, heavy, loading * twice, twice)


def nothing(skill: Skill) -> Evidence:
    """The evidence of no observation."""
    none = np.zeros_like(skill[0])
    return Evidence(none, none, none, none, none)


def _joint(shared: Shared, known: Evidence) -> tuple[Floats, Floats, Floats]:
    """Variance of the mood given ability; precision and pull of ability after the evidence."""
    calm = shared.day / (1 + shared.day * known.ee)
    sure = shared.precision + known.aa - known.ae * known.ae * calm
    return calm, sure, shared.pull + known.a - known.ae * calm * known.e


def predicted(skill: Skill, shared: Shared, known: Evidence) -> tuple[Floats, Floats]:
    """Mean and variance of each row's skill on that day, given evidence beside the rows."""
    offset, loading, residual = skill
    calm, sure, pull = _joint(shared, known)
    tilt = loading - calm * known.ae
    mean = offset + calm * known.e + tilt * (pull / sure)
    return mean, residual + calm + tilt * tilt / sure


def seen(
    skill: Skill, shared: Shared, value: Floats, noise: Floats, group: Group
) -> tuple[Skill, Shared]:
    """Skill and what is shared after the rows were seen as `value` with variance `noise`.

    Each task learns from ability and its own row, for which the day is noise, and rows that
    share a day tell of ability as much less as they are alike: the design effect of a cluster,
    1 + day * their precisions (L. Kish, Survey Sampling (1965), from memory). For one row, and
    of ability for rows of equal loading, this is exact. Bayes' rule itself would tell each task
    what the others say of the day, and so believe it less where another was flown better, for a
    good day would explain its grade. That is sound, and no student would take it. Here every
    row weighs on skill and ability with a positive sign, all rows of a sitting alike.
    """
    offset, loading, residual = skill
    heavy = 1 / (residual + noise + group.spread(shared.day))
    part = _part(shared.day, group.total(1 / (residual + noise)), group.total(heavy))
    once, off = loading * heavy, value - offset
    sure = shared.precision + part * group.total(once * loading)
    pull = shared.pull + part * group.total(once * off)
    trust = residual * heavy
    after = offset + trust * off, loading * (1 - trust), residual * (1 - trust)
    return after, Shared(sure, pull, shared.day)


def _part(day: Floats, together: Floats, alone: Floats) -> Floats:
    """What rows that share a day tell of ability, as a part of as many rows of many days.

    By the sums of their precisions without the day in them, and with.
    """
    return np.asarray(together / ((1 + day * together) * alone))


def density(skill: Skill, shared: Shared, value: Floats, noise: Floats, group: Group) -> Floats:
    """Log density of all values of a lane together, shared out evenly among its rows."""
    offset, loading, residual = skill
    prior = shared.pull / shared.precision
    from_prior = (offset + loading * group.spread(prior), loading, residual)
    known = evidence(from_prior, value, noise).total(group)
    centred = Shared(shared.precision, np.zeros_like(prior), shared.day)
    calm, sure, pull = _joint(centred, known)
    gain = calm * known.e * known.e + pull * pull / sure
    loss = np.log((1 + shared.day * known.ee) * (sure / shared.precision))
    heavy = 1 / (residual + noise)
    off = value - from_prior[0]
    rows = 0.5 * (np.log(heavy) - off * off * heavy) - LOG_ROOT_TWO_PI
    return np.asarray(rows + group.spread(0.5 * (gain - loss) / group.size))
