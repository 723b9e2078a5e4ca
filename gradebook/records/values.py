"""Plain values the rules work on: a student's history as facts, free of storage.

A *history* is a tuple of effective lesson facts (signed or acknowledged, not superseded, not
void) of one enrolment, oldest first: sorted by `(flown_on, sequence)`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from syllabus.course import LessonKind
from syllabus.errors import Severity


class State(StrEnum):
    """The life of a lesson record."""

    DRAFT = "draft"
    SIGNED = "signed"
    ACKNOWLEDGED = "acknowledged"
    SUPERSEDED = "superseded"
    VOID = "void"


class Outcome(StrEnum):
    """How a lesson ended; the last three belong to stage checks."""

    COMPLETE = "complete"
    INCOMPLETE = "incomplete"
    REPEAT = "repeat"
    PASSED = "passed"
    FAILED = "failed"
    DISCONTINUED = "discontinued"


@dataclass(frozen=True, slots=True)
class Times:
    """What a lesson adds to the log. Integer minutes, counts, and nautical miles."""

    dual: int = 0
    solo: int = 0
    pic: int = 0
    night: int = 0
    instrument: int = 0
    cross_country: int = 0
    ground: int = 0
    device: int = 0
    day_landings: int = 0
    night_landings: int = 0
    tower_landings: int = 0
    distance_nm: float = 0
    longest_leg_nm: float = 0
    landing_points: int = 0
    test_preparation: bool = False

    @property
    def flight(self) -> int:
        """Minutes in the aircraft: dual plus solo (the rest are parts of them)."""
        return self.dual + self.solo


@dataclass(frozen=True, slots=True)
class GradeFact:
    """One task graded in one lesson. `rank` and `meets` are None when it was not counted."""

    task: str
    level: str
    rank: int | None
    target: str
    meets: bool | None
    remark: str = ""


@dataclass(frozen=True, slots=True)
class ErrorFact:
    """One error seen in one task of one lesson."""

    task: str
    error: str
    severity: Severity


@dataclass(frozen=True, slots=True)
class LessonFact:
    """One effective lesson record as the rules see it."""

    record_id: str
    lesson: str
    kind: LessonKind
    flown_on: date
    sequence: int
    attempt: int
    instructor: str
    outcome: Outcome
    acknowledged: bool
    grades: tuple[GradeFact, ...]
    errors: tuple[ErrorFact, ...] = ()
    times: Times = field(default_factory=Times)
    aircraft: str = ""
    """The code of its type."""

    def grade(self, task: str) -> GradeFact | None:
        """The grade of a task in this lesson, or None when it was not on the card."""
        return next((grade for grade in self.grades if grade.task == task), None)


History = tuple[LessonFact, ...]


def in_order(history: History) -> History:
    """The same facts oldest first: by day, and on one day by sequence."""
    return tuple(sorted(history, key=lambda fact: (fact.flown_on, fact.sequence)))


@dataclass(frozen=True, slots=True)
class CloseDecision:
    """An instructor's signed decision to close a watch item, with the reason."""

    task: str
    error: str
    decided_on: date
    decided_by: str
    reason: str


@dataclass(frozen=True, slots=True)
class FiledEvent:
    """A document, endorsement, medical or test result on file."""

    event_id: str
    code: str
    kind: str
    on: date
    expires_on: date | None
    passed: bool
    words: str
    filed_by: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """Where a verdict rests: the record (or filed event) and a line of words."""

    words: str
    record_id: str | None = None
    on: date | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """One hard requirement: met or not, what is there, what is needed, and why.

    `not_counted` names what was looked at and left out, each with the reason.
    """

    group: str
    code: str
    words: str
    met: bool
    have: str
    need: str
    citation: str
    evidence: tuple[Evidence, ...] = ()
    not_counted: tuple[Evidence, ...] = ()


@dataclass(frozen=True, slots=True)
class Readiness:
    """All verdicts of one student for one stage check."""

    stage: str
    verdicts: tuple[Verdict, ...]

    @property
    def ready(self) -> bool:
        """Whether every hard requirement is met."""
        return all(verdict.met for verdict in self.verdicts)

    @property
    def missing(self) -> tuple[Verdict, ...]:
        """The requirements that are not met."""
        return tuple(verdict for verdict in self.verdicts if not verdict.met)

    def by_group(self) -> Mapping[str, tuple[Verdict, ...]]:
        """Verdicts by group (tasks, hours, events, tests, watch, records), in order."""
        groups: dict[str, tuple[Verdict, ...]] = {}
        for verdict in self.verdicts:
            groups[verdict.group] = (*groups.get(verdict.group, ()), verdict)
        return groups
