"""A course as it is being read: everything found, with its place, before it is checked."""

from collections.abc import Mapping
from dataclasses import dataclass

from syllabus.checklist import AircraftType
from syllabus.course import Course, Stage, Task
from syllabus.entries import Entry, Placed
from syllabus.requirements import RequirementSet
from syllabus.scales import GradeScale


@dataclass(frozen=True, slots=True)
class Head:
    """What `course.toml` says, with the codes it names still unchecked."""

    at: Entry
    code: str
    title: str
    category: str
    summary: str
    prerequisites: tuple[str, ...]
    consecutive: int
    scale: str
    flow: tuple[str, ...]
    stages: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Draft:
    """All parts of a course.

    `broken` names the kinds of which a file could not be parsed: what they define is not known,
    so nothing is called unknown on their account.
    """

    head: Head
    scales: Mapping[str, GradeScale]
    tasks: tuple[Placed[Task], ...]
    stages: tuple[Placed[Stage], ...]
    aircraft: tuple[Placed[AircraftType], ...]
    requirement_sets: tuple[Placed[RequirementSet], ...]
    broken: frozenset[str]

    @property
    def task_by_code(self) -> dict[str, Task]:
        """Tasks by code; the first of those that share one."""
        return {task.value.code: task.value for task in reversed(self.tasks)}

    def course(self, revision: str) -> Course:
        """The finished course; only for a draft without faults."""
        tasks = self.task_by_code
        return Course(
            code=self.head.code,
            title=self.head.title,
            category=self.head.category,
            summary=self.head.summary,
            prerequisites=self.head.prerequisites,
            consecutive=self.head.consecutive,
            stages=tuple(stage.value for stage in self.stages),
            tasks=tuple(tasks[code] for code in self.head.flow),
            aircraft=tuple(kind.value for kind in self.aircraft),
            requirement_sets=tuple(one.value for one in self.requirement_sets),
            scales=self.scales,
            revision=revision,
        )
