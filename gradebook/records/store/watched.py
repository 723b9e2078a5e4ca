"""The school as its watch reads it: everybody the reader may see, and one course of theirs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import Any, TypeVar

from sqlalchemy.orm import Session

from gradebook import clock, formats
from gradebook.analytics.needle.parameters import Parameters
from gradebook.records.attempts import TaskAttempts, attempts_of
from gradebook.records.database import MEMORY
from gradebook.records.graded import StudentFlights
from gradebook.records.permissions import Actor
from gradebook.records.remembering import Memories, once
from gradebook.records.store import courses, enrolments, people, standing
from gradebook.records.store.standing import Standing
from gradebook.records.store.together import together
from gradebook.records.values import History
from syllabus.course import Course, Task
from syllabus.saying import say

T = TypeVar("T")


@dataclass(frozen=True)
class Watched:
    """Every student the reader may see, and the course the pages are about.

    `courses` are those with students, each in its newest revision that has any; `revisions`
    holds words for every revision published, by its id, the oldest first.
    """

    everybody: list[Standing]
    names: dict[str, str]
    courses: dict[str, Course]
    course: Course | None
    revisions: dict[str, str]
    today: date
    found: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)

    def kept(self, name: str, work: Callable[[], T]) -> T:
        """What `work` makes, kept for as long as lessons, course, day and fit are the same.

        So it may follow from those alone: never from what else an enrolment says, or a name.
        """
        return once(self.found, name, work)

    @property
    def shown(self) -> list[Standing]:
        """The students of the course."""
        code = self.course.code if self.course else None
        return [state for state in self.everybody if state.course.code == code]

    @property
    def histories(self) -> list[History]:
        """What each student of the course has flown, in all of their enrolments in it."""
        found: dict[str, History] = {}
        for state in self.shown:
            who = state.enrolment.student_id
            found[who] = found.get(who, ()) + state.history
        return list(found.values())

    @property
    def parameters(self) -> Parameters | None:
        """The needle's parameters in force; None in a school without students."""
        return self.everybody[0].parameters if self.everybody else None

    @cached_property
    def tasks(self) -> dict[str, Task]:
        """Every task of the course by code, those of earlier revisions too."""
        taught = {state.course.revision: state.course for state in self.shown}
        order = [taught[revision] for revision in self.revisions if revision in taught]
        return {task.code: task for course in order for task in course.tasks}

    @cached_property
    def attempts(self) -> tuple[TaskAttempts, ...]:
        """Attempts to proficiency in the tasks the course still has."""
        return self._attempts(self.shown)

    @property
    def by_revision(self) -> dict[str, Sequence[TaskAttempts]]:
        """Attempts of the students of each revision, by its words; the newest two only."""
        groups: dict[str, Sequence[TaskAttempts]] = {}
        for revision, words in self.revisions.items():
            mine = self._attempts(
                [one for one in self.shown if one.course.revision == revision]
            )
            if mine:
                groups[words] = mine
        return dict(list(groups.items())[-2:])

    def _attempts(self, states: Sequence[Standing]) -> tuple[TaskAttempts, ...]:
        known = self.course.task_by_code if self.course else {}
        return tuple(one for one in attempts_of(by_student(states)) if one.task in known)


def watched(session: Session, actor: Actor, on: date, course: str, zone: str) -> Watched:
    """The school, in `zone`, on a day; `course` is a code, any other text takes the first."""
    rows = enrolments.enrolments(session, actor, current=False)
    states = standing.standings(session, rows, on)
    published, names = together(session, courses.PUBLISHED, people.NAMED)
    revisions = {
        row.id: say("revision {id} of {day}", id=row.id[:8], day=_day(row.published_at, zone))
        for row in sorted(published, key=lambda row: (row.published_at, row.id))
    }
    taught = courses.in_newest([state.course for state in states], published)
    shown = taught.get(course) or next(iter(taught.values()), None)
    kept = _remembered(session, states, shown.code if shown else "", on)
    return Watched(states, people.by_id(names), taught, shown, revisions, on, kept)


def _remembered(
    session: Session, states: Sequence[Standing], course: str, on: date
) -> dict[str, Any]:
    """What was worked out of these students' lessons: nothing, where any of it is new."""
    memories: Memories | None = session.info.get(MEMORY)
    if memories is None:
        return {}
    mark = on, [(one.enrolment.id, one.course.revision, one.fit_id, one.file) for one in states]
    if course not in (known := memories.courses.recall({course: mark})):
        known[course] = {}
        lessons = sum(len(one.history) for one in states)
        memories.courses.keep(course, mark, known[course], lessons)
    found: dict[str, Any] = known[course]
    return found


def _day(moment: datetime, zone: str) -> str:
    return formats.day(clock.school_day(moment, zone))


def flights(states: Sequence[Standing]) -> list[StudentFlights]:
    """What the needle reads of these students."""
    return [StudentFlights(one.enrolment.id, one.course, one.history) for one in states]


def by_student(states: Sequence[Standing]) -> dict[str, list[StudentFlights]]:
    """The same by student: who is enrolled a second time is one."""
    found: dict[str, list[StudentFlights]] = {}
    for state, one in zip(states, flights(states), strict=True):
        found.setdefault(state.enrolment.student_id, []).append(one)
    return found
