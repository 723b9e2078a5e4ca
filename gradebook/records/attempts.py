"""How many attempts students needed, task by task. Pure."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from gradebook.records.graded import StudentFlights
from gradebook.records.trail import is_met


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
