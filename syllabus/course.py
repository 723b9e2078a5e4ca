"""A course and its parts: stages, lessons, tasks, elements."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from syllabus.checklist import AircraftType
from syllabus.errors import GENERIC, ErrorType
from syllabus.requirements import RequirementSet
from syllabus.scales import GradeScale
from syllabus.standards import Bounds, CompletionStandard


class Phase(StrEnum):
    """Where a task happens."""

    KNOWLEDGE = "knowledge"
    GROUND = "ground"
    FLIGHT = "flight"


class LessonKind(StrEnum):
    """What kind of lesson it is."""

    GROUND = "ground"
    DUAL = "dual"
    SOLO = "solo"
    STAGE_CHECK = "stage-check"


@dataclass(frozen=True, slots=True)
class Element:
    """A named part of a task: knowledge, risk management or skill."""

    code: str
    words: str


@dataclass(frozen=True, slots=True)
class Task:
    """One thing that can be graded, with its standard and the errors made in it."""

    code: str
    title: str
    phase: Phase
    scale: GradeScale
    standard: CompletionStandard
    elements: tuple[Element, ...]
    errors: tuple[ErrorType, ...]
    references: tuple[str, ...]

    def error(self, code: str) -> ErrorType:
        """The catalogued or generic error with this code; KeyError when there is none."""
        return {**GENERIC, **{error.code: error for error in self.errors}}[code]


@dataclass(frozen=True, slots=True)
class LessonTask:
    """A task inside a lesson and the level this lesson asks of it."""

    task: str
    target: str


@dataclass(frozen=True, slots=True)
class Lesson:
    """One lesson: objective, planned minutes, and its tasks with their targets."""

    code: str
    title: str
    kind: LessonKind
    objective: str
    completion: str
    ground_minutes: int
    flight_minutes: int
    tasks: tuple[LessonTask, ...]
    read: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HourMinimum:
    """Decimal hours of one kind that a stage asks for before its check."""

    code: str
    bounds: Bounds
    source: str


@dataclass(frozen=True, slots=True)
class Event:
    """Something that must be on file: a document, an endorsement, a medical, a test passed."""

    code: str
    words: str
    kind: str
    source: str


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage: its lessons, the last of which is the stage check, and what the check wants."""

    code: str
    title: str
    objective: str
    completion: str
    lessons: tuple[Lesson, ...]
    hours: tuple[HourMinimum, ...]
    events: tuple[Event, ...]
    tests: tuple[Event, ...]
    requirements: str | None

    @property
    def check(self) -> Lesson:
        """The stage check: its tasks at their targets are the stage's task requirements."""
        return self.lessons[-1]


@dataclass(frozen=True)
class Course:
    """A whole course at one revision. `revision` is the content hash of its files (hex)."""

    code: str
    title: str
    category: str
    summary: str
    prerequisites: tuple[str, ...]
    consecutive: int
    stages: tuple[Stage, ...]
    tasks: tuple[Task, ...]
    aircraft: tuple[AircraftType, ...]
    requirement_sets: tuple[RequirementSet, ...]
    scales: Mapping[str, GradeScale]
    revision: str = field(default="")

    @cached_property
    def task_by_code(self) -> Mapping[str, Task]:
        """Tasks by code, in flow order."""
        return {task.code: task for task in self.tasks}

    @cached_property
    def lessons(self) -> tuple[Lesson, ...]:
        """Every lesson in course order."""
        return tuple(lesson for stage in self.stages for lesson in stage.lessons)

    @cached_property
    def lesson_by_code(self) -> Mapping[str, Lesson]:
        """Lessons by code, in course order."""
        return {lesson.code: lesson for lesson in self.lessons}

    @cached_property
    def stage_of(self) -> Mapping[str, Stage]:
        """The stage each lesson code belongs to."""
        return {lesson.code: stage for stage in self.stages for lesson in stage.lessons}

    @cached_property
    def flow_place(self) -> Mapping[str, int]:
        """Place of each task in the flow, 0 first: sort tasks by it."""
        return {task.code: place for place, task in enumerate(self.tasks)}

    def aircraft_type(self, code: str) -> AircraftType | None:
        """The aircraft type with this code, or None."""
        return next((kind for kind in self.aircraft if kind.code == code), None)
