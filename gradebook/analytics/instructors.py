"""Does an instructor grade like the school: severity, use of the scale, halo, drift.

Raw means are never compared, because instructors get different students: everything rests on
residuals `z`, how far a grade lay from its forecast in standard deviations, and on the severity
that the needle fitted. A finding is flagged only when it survives the correction for having
looked at every instructor in every way (Benjamini-Hochberg), and never on fewer than 30 grades.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.stats import norm

from gradebook.analytics.discoveries import benjamini_hochberg
from gradebook.analytics.estimate import Estimate
from gradebook.analytics.intervals import wilson
from gradebook.analytics.residuals import drift_of, halos, spreads, without_trend

COLUMNS = ("instructor", "student", "lesson", "month", "level", "z")
FEW_GRADES = 30
NOTABLE_SEVERITY = (
    0.5  # probit units: about 17 points of a middling chance to meet the standard
)
FALSE_DISCOVERIES = 0.05


@dataclass(frozen=True, slots=True)
class Finding:
    """One diagnostic: its value with 95 % interval, the p-value, and p corrected for all tests.

    `flagged`: the corrected p is at most 5 %. None where it cannot be told; then see
    `estimate.why`.
    """

    estimate: Estimate
    p: float | None = None
    corrected: float | None = None

    @property
    def flagged(self) -> bool:
        """Whether this is more than chance over all instructors and diagnostics."""
        return self.corrected is not None and self.corrected <= FALSE_DISCOVERIES


@dataclass(frozen=True, slots=True)
class Severity:
    """Fitted severity, probit units, above 0 is stricter; its 80 and 95 % intervals."""

    value: float
    error: float

    def interval(self, confidence: float) -> tuple[float, float]:
        """Both ends of the normal interval."""
        reach = float(norm.ppf((1 + confidence) / 2)) * self.error
        return self.value - reach, self.value + reach

    @property
    def clear(self) -> bool:
        """Whether the 95 % interval excludes 0."""
        low, high = self.interval(0.95)
        return low > 0 or high < 0

    @property
    def notable(self) -> bool:
        """Clear, and beyond half a probit unit: worth a talk."""
        return self.clear and abs(self.value) > NOTABLE_SEVERITY


@dataclass(frozen=True, slots=True)
class MiddleShare:
    """Share of the grades between the lowest and the highest level, and that of the school.

    `low` and `high` are the 95 % Wilson interval. Other students make other grades: a pointer,
    not a finding.
    """

    value: float
    low: float
    high: float
    school: float


@dataclass(frozen=True, slots=True)
class InstructorDiagnostics:
    """How one instructor grades.

    `severity`: above 0 is stricter. `spread`: variance of z less the others' median; below 0
    the middle of the scale is kept (or, with a large severity, one end). `halo`: excess of the
    mean product of two z of one lesson over the school's; above 0 is one impression for all
    tasks. `drift`: change of z a month; above 0 is growing lenient. `middle` is None on a scale
    of two levels, `fitted` when no severity was fitted.
    """

    instructor: str
    grades: int
    lessons: int
    fitted: Severity | None
    middle: MiddleShare | None
    severity: Finding
    spread: Finding
    halo: Finding
    drift: Finding

    @property
    def few(self) -> bool:
        """Fewer than 30 grades: nothing is flagged."""
        return self.grades < FEW_GRADES


KINDS = ("severity", "spread", "halo", "drift")


def diagnose(
    grades: pd.DataFrame, severities: Mapping[str, tuple[float, float]], levels: int
) -> tuple[InstructorDiagnostics, ...]:
    """Diagnostics of every instructor, by name; the same input gives the same answer.

    Parameters
    ----------
    grades : frame, one row a grade
        `instructor`, `student`, `lesson` (one id per lesson flown), `month` (a number, one more
        each month), `level` (0 to levels - 1), `z` (grade less forecast, over the forecast's
        standard deviation, the forecast made before the lesson for a neutral instructor).
    severities : mapping of instructor to (severity, standard error)
        From the fit; an instructor may be missing.
    levels : int
        Levels of the scale, at least 2.

    Raises
    ------
    ValueError
        A column is missing, z is not finite, a level lies outside the scale.
    """
    _check(grades, levels)
    # Numbers in the order of the names: lessons are grouped by many times below.
    grades = grades.assign(lesson=pd.factorize(grades["lesson"], sort=True)[0])
    by_name = dict(sorted((str(name), rows) for name, rows in grades.groupby("instructor")))
    plain = {name: without_trend(rows) for name, rows in by_name.items()}
    halo, spread = halos(plain), spreads(plain)
    found = []
    for name, rows in by_name.items():
        fitted = Severity(*map(float, severities[name])) if name in severities else None
        found.append(
            InstructorDiagnostics(
                instructor=name,
                grades=len(rows),
                lessons=rows["lesson"].nunique(),
                fitted=fitted,
                middle=_middle_share(rows, grades, levels),
                severity=_severity(fitted),
                spread=Finding(*spread[name]),
                halo=Finding(*halo[name]),
                drift=Finding(*drift_of(rows)),
            )
        )
    return _corrected(found)


def _check(grades: pd.DataFrame, levels: int) -> None:
    missing = [name for name in COLUMNS if name not in grades.columns]
    if missing:
        raise ValueError(f"Columns are missing: {', '.join(missing)}.")
    if not np.isfinite(grades["z"].to_numpy(dtype=float)).all():
        raise ValueError("Every residual is a finite number.")
    if not grades["level"].between(0, levels - 1).all():
        raise ValueError(f"A level lies outside 0 to {levels - 1}.")


def _middle_share(rows: pd.DataFrame, school: pd.DataFrame, levels: int) -> MiddleShare | None:
    if levels < 3:
        return None
    inside, of_all = (one["level"].between(1, levels - 2) for one in (rows, school))
    low, high = wilson(int(inside.sum()), len(rows))
    return MiddleShare(float(inside.mean()), low=low, high=high, school=float(of_all.mean()))


def _severity(fitted: Severity | None) -> Finding:
    if fitted is None or fitted.error <= 0:
        return Finding(Estimate(None, why="No severity was fitted."))
    estimate = Estimate(fitted.value, *fitted.interval(0.95))
    return Finding(estimate, float(2 * norm.sf(abs(fitted.value) / fitted.error)))


def _corrected(found: list[InstructorDiagnostics]) -> tuple[InstructorDiagnostics, ...]:
    """All p-values of instructors with enough grades, corrected together."""
    tested = [
        (place, kind)
        for place, one in enumerate(found)
        for kind in KINDS
        if not one.few and getattr(one, kind).p is not None
    ]
    if not tested:
        return tuple(found)
    corrected = benjamini_hochberg([getattr(found[at], kind).p for at, kind in tested])
    for (at, kind), p in zip(tested, corrected, strict=True):
        finding = replace(getattr(found[at], kind), corrected=float(p))
        found[at] = replace(found[at], **{kind: finding})
    return tuple(found)
