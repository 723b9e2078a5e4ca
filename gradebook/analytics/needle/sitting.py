"""What the grades of one sitting say together, where each is a normal observation.

Exact: R. E. Kalman, 'A new approach to linear filtering and prediction problems', Journal of
Basic Engineering 82 (1960) 35-45, for several observations at once. All tasks of a sitting
share the student's ability and the mood of the day; given both they are independent, so two
numbers a student are all that must be solved for. Axes: [..., rows] or [..., lanes].
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

    `precision` of ability, `pull` its mean times that; mean `mood` and variance `doubt` of the
    day. The two are independent before a sitting, and are kept so after it.
    """

    precision: Floats
    pull: Floats
    mood: Floats
    doubt: Floats

    def spread(self, group: Group) -> "Shared":
        """The same beside the rows."""
        parts = (self.precision, self.pull, self.mood, self.doubt)
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


def evidence(skill: Skill, mood: Floats, value: Floats, noise: Floats) -> Evidence:
    """What each row says whose skill on that day was seen as `value`, with variance `noise`."""
    offset, loading, residual = skill
    heavy = 1 / (residual + noise)
    off = value - (offset + mood)
    once, twice = loading * heavy, off * heavy
    return Evidence(loading * once, once, heavy, loading * twice, twice)


def nothing(skill: Skill) -> Evidence:
    """The evidence of no observation."""
    none = np.zeros_like(skill[0])
    return Evidence(none, none, none, none, none)


def _joint(shared: Shared, known: Evidence) -> tuple[Floats, Floats, Floats]:
    """Variance of the mood given ability; precision and pull of ability after the evidence."""
    calm = shared.doubt / (1 + shared.doubt * known.ee)
    sure = shared.precision + known.aa - known.ae * known.ae * calm
    return calm, sure, shared.pull + known.a - known.ae * calm * known.e


def predicted(skill: Skill, shared: Shared, known: Evidence) -> tuple[Floats, Floats]:
    """Mean and variance of each row's skill on that day, given evidence beside the rows."""
    offset, loading, residual = skill
    calm, sure, pull = _joint(shared, known)
    tilt = loading - calm * known.ae
    mean = offset + shared.mood + calm * known.e + tilt * (pull / sure)
    return mean, residual + calm + tilt * tilt / sure


def bound(skill: Skill, noise: Floats, group: Group) -> Floats:
    """The largest variance of the day [lanes] with which no better grade speaks against a student.

    What a row says of ability is taken down by what the day may explain. It must keep at least
    the part that its task does not take for itself, or the next grade of the task, now less of
    a surprise, would take more from ability than this one gave.
    """
    _, loading, residual = skill
    heavy = 1 / (residual + noise)
    left = np.minimum.reduceat(loading * (1 - residual * heavy), group.starts, axis=-1)
    return np.asarray(left / group.total(heavy * (loading - group.spread(left))))


def seen(
    skill: Skill, shared: Shared, value: Floats, noise: Floats, day: Floats, group: Group
) -> tuple[Skill, Shared]:
    """Skill and what is shared after the rows were seen as `value` with variance `noise`.

    Ability comes out exactly. Each task learns from ability and its own row, for which the day
    is noise of variance `day`: what other rows say of the day is kept from it. Told of it, a
    task would be believed less when another was flown better, for a good day would explain its
    grade. That is sound, and no student would take it; so a better grade lowers no skill.
    """
    offset, loading, residual = skill
    known = evidence(skill, group.spread(shared.mood), value, noise).total(group)
    calm, sure, pull = _joint(shared, known)
    trust = residual / (residual + noise + day)
    after = (offset + trust * (value - offset), loading * (1 - trust), residual * (1 - trust))
    rise, slope = calm * known.e, calm * known.ae
    mood_now = shared.mood + rise - slope * (pull / sure)
    return after, Shared(sure, pull, mood_now, calm + slope * slope / sure)


def density(skill: Skill, shared: Shared, value: Floats, noise: Floats, group: Group) -> Floats:
    """Log density of all values of a lane together, shared out evenly among its rows."""
    offset, loading, residual = skill
    prior = shared.pull / shared.precision
    from_prior = (offset + loading * group.spread(prior), loading, residual)
    mood = group.spread(shared.mood)
    known = evidence(from_prior, mood, value, noise).total(group)
    centred = Shared(shared.precision, np.zeros_like(prior), shared.mood, shared.doubt)
    calm, sure, pull = _joint(centred, known)
    gain = calm * known.e * known.e + pull * pull / sure
    loss = np.log((1 + shared.doubt * known.ee) * (sure / shared.precision))
    heavy = 1 / (residual + noise)
    off = value - (from_prior[0] + mood)
    rows = 0.5 * (np.log(heavy) - off * off * heavy) - LOG_ROOT_TWO_PI
    return np.asarray(rows + group.spread(0.5 * (gain - loss) / group.size))
