"""What the needle's model knows before it looks at a student: defaults, or fitted values.

Probit scale: at a skill of 0 an average instructor grades 'meets the standard' half the time.
The defaults are the model of a school too young to fit its own (`FEWEST_GRADES`).
"""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from functools import lru_cache

import numpy as np
from numpy.polynomial.hermite_e import hermegauss

from gradebook.analytics.needle.floats import Floats

FEWEST_GRADES = 500
"""A school fits its own parameters from this many counted grades on; before, the defaults."""

ARITHMETIC = 5
"""Which arithmetic beliefs and parameters are of; one more whenever either changes its meaning.

Fits and beliefs that say none are of an earlier one. Those beliefs begin with a chance: none
can be taken for a number above 1.
"""

OWN_VALUES = 2
"""Of the three values of a curve (start, plateau, rate), so many are the task's own.

The rest is what all tasks share. Counted as D. J. C. MacKay, 'Bayesian interpolation', Neural
Computation 4 (1992) 415-447 counts well-determined parameters (from memory): the sum over the
values of 1 - (standard error / spread between tasks)^2 was .5 to 1.8 after fits to 10 simulated
students, .9 to 1.9 after 20 and 1.6 to 2.6 after 50.
"""

NODES = 5
"""Learning speeds followed side by side (Gauss-Hermite nodes of a log-normal)."""


@dataclass(frozen=True, slots=True)
class Spread:
    """How students, days and rest vary; the same for every task.

    Standard deviations on the probit scale: `ability` between students, `deviation` of one
    student's task from that, `practice` noise of one attempt, `rest` noise per square root of
    a day, `day` shared by all grades of a lesson, `speed` of log learning speed. `retention`
    in days after the first attempt; attempts lengthen it by (1 + n)^`durability`. `carry`: the
    part of ability that still shows on the plateau. `hold`: the part of what a skill is off its
    task's curve that an attempt leaves, 0-1.
    """

    ability: float = 0.6
    deviation: float = 0.6
    practice: float = 0.25
    rest: float = 0.015
    day: float = 0.3
    retention: float = 80.0
    speed: float = 0.4
    durability: float = 0.4
    carry: float = 0.5
    hold: float = 0.85


@dataclass(frozen=True, slots=True)
class TaskCurve:
    """How one task is learnt.

    Skill at the `start`, the `plateau` practice leads to, and the `rate` (0-1), the part of
    the way to it that one attempt goes. `unsure` is the standard error of the start, `vague`
    that of the plateau.
    """

    start: float = -1.2
    plateau: float = 1.5
    rate: float = 0.23
    unsure: float = 0.5
    vague: float = 0.5


@dataclass(frozen=True, slots=True)
class Hand:
    """How one instructor grades; the default is someone not seen yet.

    `severity` (positive is harder, in units of skill) with its standard `error`, `spread` of
    the levels (above 1: keeps to the middle), and the `n` counted grades behind both.
    """

    severity: float = 0.0
    spread: float = 1.0
    error: float = 0.4
    n: int = 0


@dataclass(frozen=True, slots=True)
class Parameters:
    """Everything the filter needs.

    `cuts` by grade scale: the K - 1 thresholds between its K levels, rising, 0 where the
    standard begins. `tasks` and `instructors` hold the fitted ones; others are the defaults.
    `grades` and `students` count what it was fitted on (0: nothing, the published defaults);
    `slope`: what the means of skills are multiplied by before a chance is said of them; their
    variances stay. `arithmetic` is the one it was fitted under (0: before they were numbered).
    """

    cuts: Mapping[str, tuple[float, ...]]
    spread: Spread = field(default_factory=Spread)
    tasks: Mapping[str, TaskCurve] = field(default_factory=dict)
    instructors: Mapping[str, Hand] = field(default_factory=dict)
    typical: TaskCurve = field(default_factory=TaskCurve)
    grades: int = 0
    students: int = 0
    nodes: int = NODES
    slope: float = 1.0
    arithmetic: int = ARITHMETIC

    def curve(self, task: str) -> TaskCurve:
        """The task's own curve, or the typical one."""
        return self.tasks.get(task, self.typical)

    def hand(self, instructor: str) -> Hand:
        """The instructor's own hand, or an unknown one."""
        return self.instructors.get(instructor, Hand())

    @property
    def widening(self) -> float:
        """What the variance of a skill is multiplied by in an interval, at least 1.

        A curve has values of its own, and so many students have shown them: they fit these
        students better than the next one. To first order the final prediction error of
        H. Akaike, 'Fitting autoregressive models for prediction', Annals of the Institute of
        Statistical Mathematics 21 (1969) 243-247 (from memory). The defaults were fitted to
        nobody.
        """
        return 1 + 2 * OWN_VALUES / self.students if self.students else 1.0

    def as_text(self) -> str:
        """JSON; `parameters_from` reads it back without losing a bit."""
        return json.dumps(asdict(self), sort_keys=True)


def parameters_from(text: str) -> Parameters:
    """The parameters `Parameters.as_text` wrote."""
    raw = json.loads(text)
    return Parameters(
        cuts={name: tuple(cuts) for name, cuts in raw["cuts"].items()},
        spread=Spread(**raw["spread"]),
        tasks={name: _curve(one) for name, one in raw["tasks"].items()},
        instructors={name: Hand(**one) for name, one in raw["instructors"].items()},
        typical=_curve(raw["typical"]),
        grades=raw["grades"],
        students=raw["students"],
        nodes=raw["nodes"],
        slope=raw.get("slope", 1.0),  # earlier fits had none
        arithmetic=raw.get("arithmetic", 0),
    )


def _curve(raw: Mapping[str, float]) -> TaskCurve:
    return TaskCurve(**{"vague": raw["unsure"], **raw})  # earlier fits knew one error alone


def default_cuts(levels: int, standard: int) -> tuple[float, ...]:
    """Thresholds 1.5 apart, 0 below level `standard` (1..`levels`).

    ValueError unless 2 <= `standard` <= `levels`: a standard that every grade meets, or none
    can, says nothing.
    """
    if not 2 <= standard <= levels:
        raise ValueError(
            f"The standard lies between 2 and the highest level, {levels}, not at {standard}."
        )
    return tuple(1.5 * (level - standard) for level in range(2, levels + 1))


@lru_cache(maxsize=8)
def speed_nodes(nodes: int) -> tuple[Floats, Floats]:
    """Standard-normal nodes and weights [nodes] (Gauss-Hermite, probabilists' form).

    Both are shared by all who ask, and cannot be written to.
    """
    points, weights = (np.asarray(part) for part in hermegauss(nodes))
    weights = weights / weights.sum()
    points.flags.writeable = weights.flags.writeable = False
    return points, weights
