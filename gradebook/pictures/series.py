"""What the charts draw: plain values, the same for the picture, the figure and the table."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from syllabus.saying import say

Spot = date | int | float
"""A place along the horizontal axis: a day, or a count such as the number of the attempt."""


@dataclass(frozen=True, slots=True)
class TrendPoint:
    """The chance 0-1 of meeting the standard at one place, and the grade given there.

    `chance` is None where too few grades stand behind it; `low` and `high` end its 80 %
    interval. `met` is None where no grade was counted.
    """

    at: Spot
    chance: float | None
    low: float = 0.0
    high: float = 1.0
    met: bool | None = None


@dataclass(frozen=True, slots=True)
class Opportunity:
    """The task was flown: whether the error was marked."""

    at: Spot
    error: bool


@dataclass(frozen=True, slots=True)
class ScoreRun:
    """A cumulative score after each attempt of one run, and the line that ends the run.

    Runs alternate: towards proof, then watching for relapse, then towards proof again.
    `reached`: the last score is at the line; a run may be empty.
    """

    scores: Sequence[float]
    threshold: float
    reached: bool


@dataclass(frozen=True, slots=True)
class SeverityRow:
    """Where one instructor stands on a scale with 0 in its middle, such as how hard they grade.

    `low`, `high` end the 80 % interval and `low95`, `high95` the 95 % one; `n` counts what
    stands behind it. `clear`: more than chance.
    """

    name: str
    value: float
    low: float
    high: float
    low95: float
    high95: float
    n: int
    clear: bool


@dataclass(frozen=True, slots=True)
class Gauge:
    """What such a scale measures: `unit`, what lies at its `low` and `high` end.

    `counted` names what n counts. Who stands out does what `act` says, `lower` or `higher`;
    `nobody` says that none does, `none` that there is nothing to see yet.
    """

    unit: str
    low: str
    high: str
    counted: str
    act: tuple[str, str]
    lower: str
    higher: str
    nobody: str
    none: str


SEVERITY = Gauge(
    unit=say("severity"),
    low=say("easier"),
    high=say("harder"),
    counted="grade",
    act=("grades", "grade"),
    lower="easier",
    higher="harder",
    nobody=say("No instructor grades clearly harder or easier than the school"),
    none=say("No instructor has grades yet"),
)
"""How hard instructors grade: positive is harder than the school, 0 is the school."""


@dataclass(frozen=True, slots=True)
class SurvivalCurve:
    """One group of students by Kaplan and Meier: who is not yet proficient.

    `times` ascend, one for each event; `shares` (0-1) is the estimate from that time on,
    `at_risk` the number under observation just before it. `n` students, followed to
    `followed` at most. `lows` and `highs` end the 95 % interval of each share; empty: no band.
    """

    name: str
    n: int
    followed: float
    times: Sequence[float]
    shares: Sequence[float]
    at_risk: Sequence[int]
    lows: Sequence[float] = ()
    highs: Sequence[float] = ()


@dataclass(frozen=True, slots=True)
class ForecastBin:
    """Forecasts from `low` to `high`: their mean, and that `k` of `n` came true.

    `share_low`, `share_high` end the 95 % Wilson interval of k / n. At least one forecast.
    """

    low: float
    high: float
    forecast: float
    k: int
    n: int
    share_low: float
    share_high: float

    @property
    def share(self) -> float:
        """The share that came true."""
        return self.k / self.n

    @property
    def agrees(self) -> bool:
        """Whether the interval of the share holds the mean forecast."""
        return self.share_low <= self.forecast <= self.share_high


@dataclass(frozen=True, slots=True)
class CohortBand:
    """How `n` students stood at one place: five percentiles of the chance 0-1."""

    at: Spot
    p10: float
    p25: float
    p50: float
    p75: float
    p90: float
    n: int


def place(spot: Spot) -> float:
    """Where a spot lies on the axis: days are counted, numbers stand for themselves."""
    return float(spot.toordinal() if isinstance(spot, date) else spot)


def median(curve: SurvivalCurve) -> float | None:
    """The time by which half the group got there; None when fewer than half did."""
    pairs = zip(curve.times, curve.shares, strict=True)
    return next((time for time, share in pairs if share <= 0.5), None)


def by_clearness(rows: Sequence[SeverityRow]) -> list[SeverityRow]:
    """Clear differences first, hardest to easiest; the rest by name: noise is not ranked."""
    clear = sorted((row for row in rows if row.clear), key=lambda row: -row.value)
    return clear + sorted((row for row in rows if not row.clear), key=lambda row: row.name)
