"""How many attempts students needed, task by task. Pure."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from gradebook.records.graded import StudentFlights
from gradebook.records.trail import is_met
from gradebook.records.values import LessonFact
from syllabus.course import LessonKind

Flown = Sequence[StudentFlights]
"""What one student has flown in a course, an enrolment after the other."""


@dataclass(frozen=True, slots=True)
class TaskAttempts:
    """One student's one task: counted attempts until proficient, or so far."""

    student_id: str
    task: str
    attempts: int
    proficient: bool


def attempts_of(people: Mapping[str, Flown]) -> tuple[TaskAttempts, ...]:
    """Every task each student was graded in; who comes back goes on where they left off.

    Proficient at the last of as many grades in a row at the standard as the course asks for.
    """
    return tuple(found for who, flown in people.items() for found in _of_one(who, flown))


@dataclass(frozen=True, slots=True)
class CheckedTask:
    """One student's one task at the first stage check that graded it."""

    task: str
    proven: bool
    failed: bool


def checked(people: Iterable[Flown]) -> tuple[CheckedTask, ...]:
    """Every task at its first stage check: proficient before, and below the standard there."""
    return tuple(found for flown in people for found in _checked(flown))


def _checked(flown: Flown) -> Iterator[CheckedTask]:
    before: dict[str, list[bool]] = {}
    seen: set[str] = set()
    for fact, task, verdict in _verdicts(flown):
        if fact.kind is LessonKind.STAGE_CHECK and task not in seen:
            seen.add(task)
            run = _first_run(before.get(task, []), _consecutive(flown))
            yield CheckedTask(task, proven=run is not None, failed=not verdict)
        before.setdefault(task, []).append(verdict)


def _of_one(who: str, flown: Flown) -> Iterator[TaskAttempts]:
    met: dict[str, list[bool]] = {}
    for _, task, verdict in _verdicts(flown):
        met.setdefault(task, []).append(verdict)
    for task, verdicts in met.items():
        first = _first_run(verdicts, _consecutive(flown))
        yield TaskAttempts(who, task, first or len(verdicts), proficient=first is not None)


def _verdicts(flown: Flown) -> Iterator[tuple[LessonFact, str, bool]]:
    """Every counted grade in order: its lesson, its task, whether it met the standard."""
    for one in flown:
        for fact in one.history:
            for grade in fact.grades:
                verdict = is_met(grade, one.course)
                if verdict is not None:
                    yield fact, grade.task, verdict


def _consecutive(flown: Flown) -> int:
    """How many in a row the student's latest revision asks for."""
    return flown[-1].course.consecutive


def _first_run(verdicts: list[bool], k: int) -> int | None:
    """The attempt (1 first) that completes the first k in a row; None when none does."""
    run = 0
    for at, verdict in enumerate(verdicts, start=1):
        run = run + 1 if verdict else 0
        if run == k:
            return at
    return None
