"""How many attempts students needed, task by task. Pure."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from gradebook.records.graded import StudentFlights
from gradebook.records.trail import is_met
from syllabus.course import LessonKind


@dataclass(frozen=True, slots=True)
class TaskAttempts:
    """One student's one task: counted attempts until proficient, or so far."""

    enrolment_id: str
    task: str
    attempts: int
    proficient: bool


def attempts_of(flights: Iterable[StudentFlights]) -> tuple[TaskAttempts, ...]:
    """Every task each student was graded in.

    Proficient at the last of as many grades in a row at the standard as the course asks for.
    """
    return tuple(found for one in flights for found in _of_one(one))


@dataclass(frozen=True, slots=True)
class CheckedTask:
    """One student's one task at the first stage check that graded it."""

    task: str
    proven: bool
    failed: bool


def checked(flights: Iterable[StudentFlights]) -> tuple[CheckedTask, ...]:
    """Every task at its first stage check: proficient before, and below the standard there."""
    return tuple(found for one in flights for found in _checked(one))


def _checked(flights: StudentFlights) -> Iterator[CheckedTask]:
    before: dict[str, list[bool]] = {}
    seen: set[str] = set()
    for fact in flights.history:
        check = fact.kind is LessonKind.STAGE_CHECK
        for grade in fact.grades:
            verdict = is_met(grade, flights.course)
            if verdict is None:
                continue
            if check and grade.task not in seen:
                seen.add(grade.task)
                run = _first_run(before.get(grade.task, []), flights.course.consecutive)
                yield CheckedTask(grade.task, proven=run is not None, failed=not verdict)
            before.setdefault(grade.task, []).append(verdict)


def _of_one(flights: StudentFlights) -> Iterator[TaskAttempts]:
    met: dict[str, list[bool]] = {}
    for fact in flights.history:
        for grade in fact.grades:
            verdict = is_met(grade, flights.course)
            if verdict is not None:
                met.setdefault(grade.task, []).append(verdict)
    for task, verdicts in met.items():
        first = _first_run(verdicts, flights.course.consecutive)
        yield TaskAttempts(
            flights.enrolment_id, task, first or len(verdicts), proficient=first is not None
        )


def _first_run(verdicts: list[bool], k: int) -> int | None:
    """The attempt (1 first) that completes the first k in a row; None when none does."""
    run = 0
    for at, verdict in enumerate(verdicts, start=1):
        run = run + 1 if verdict else 0
        if run == k:
            return at
    return None
