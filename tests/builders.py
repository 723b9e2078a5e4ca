"""Small courses and lesson facts built by hand for tests."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from gradebook.records.values import (
    CloseDecision,
    ErrorFact,
    FiledEvent,
    GradeFact,
    LessonFact,
    Outcome,
    Times,
)
from syllabus.course import (
    Course,
    Event,
    HourMinimum,
    Lesson,
    LessonKind,
    LessonTask,
    Phase,
    Stage,
    Task,
)
from syllabus.errors import ErrorType, Severity
from syllabus.requirements import RequirementSet
from syllabus.scales import (
    DISCONTINUED,
    INCOMPLETE,
    LEFT_BLANK,
    NOT_OBSERVED,
    GradeScale,
    Level,
)
from syllabus.standards import CompletionStandard

DAY_ONE = date(2026, 3, 1)

MANOEUVRE = GradeScale(
    "LCG-MAN",
    "Manoeuvre",
    (
        Level("describe", "Describe", 1, "Can say what it looks like"),
        Level("explain", "Explain", 2, "Understands why"),
        Level("practice", "Practice", 3, "Flies it with coaching"),
        Level("perform", "Perform", 4, "Flies it without help"),
    ),
    "perform",
    "FAA-H-8083-9, chapter 6",
)
SRM = GradeScale(
    "LCG-SRM",
    "Single-pilot resource management",
    (
        Level("explain", "Explain", 1, "Names the risks when prompted"),
        Level("practice", "Practice", 2, "Applies it with coaching"),
        Level("manage-decide", "Manage-Decide", 3, "Decides well alone"),
    ),
    "manage-decide",
    "FAA-H-8083-9, chapter 1",
)
SATISFACTORY = GradeScale(
    "ACS-SU",
    "Satisfactory or not",
    (
        Level("unsatisfactory", "Unsatisfactory", 0, "Below standard"),
        Level("satisfactory", "Satisfactory", 1, "At standard"),
    ),
    "satisfactory",
    "FAA-S-ACS-6C",
    (NOT_OBSERVED, LEFT_BLANK, INCOMPLETE, DISCONTINUED),
)
ERRORS = (
    ErrorType("RU-04", "Leaves the magneto selector on one side", Severity.SAFETY_CRITICAL),
    ErrorType("RU-01", "Stands where the downwash raises dust", Severity.PROCEDURAL),
    ErrorType("RU-03", "Lets the rpm drift", Severity.TECHNIQUE),
)
SEVERITY = {error.code: error.severity for error in ERRORS}


def a_task(code: str, scale: GradeScale = MANOEUVRE, phase: Phase = Phase.GROUND) -> Task:
    """A task with the three errors RU-04, RU-01 and RU-03."""
    title = code.replace("-", " ").capitalize()
    standard = CompletionStandard("Done to standard", (), f"standard of {code}")
    return Task(code, title, phase, scale, standard, elements=(), errors=ERRORS, references=())


def a_lesson(
    code: str, tasks: Mapping[str, str], kind: LessonKind = LessonKind.DUAL, minutes: int = 60
) -> Lesson:
    """A lesson with task codes and their target levels."""
    asked = tuple(LessonTask(task, target) for task, target in tasks.items())
    title = f"Lesson {code}"
    return Lesson(
        code,
        title,
        kind,
        objective="Learn",
        completion="Learnt",
        ground_minutes=30,
        flight_minutes=minutes,
        tasks=asked,
        read=(),
    )


def a_check(code: str, tasks: Mapping[str, str]) -> Lesson:
    """A stage check with its tasks and targets."""
    return a_lesson(code, tasks, LessonKind.STAGE_CHECK)


def a_stage(
    *lessons: Lesson,
    hours: tuple[HourMinimum, ...] = (),
    events: tuple[Event, ...] = (),
    tests: tuple[Event, ...] = (),
    requirements: str | None = None,
) -> Stage:
    """A stage of these lessons, the last of which is its check."""
    return Stage(
        "stage-1",
        "Stage 1",
        objective="Solo",
        completion="Can fly solo",
        lessons=lessons,
        hours=hours,
        events=events,
        tests=tests,
        requirements=requirements,
    )


def a_course(
    *stages: Stage, tasks: tuple[Task, ...], requirement_sets: tuple[RequirementSet, ...] = ()
) -> Course:
    """A helicopter course of these stages and tasks; the last two grades count."""
    return Course(
        "tystie-private",
        "Private pilot",
        "RH",
        summary="",
        prerequisites=(),
        consecutive=2,
        stages=stages,
        tasks=tasks,
        aircraft=(),
        requirement_sets=requirement_sets,
        scales={scale.code: scale for scale in (MANOEUVRE, SRM, SATISFACTORY)},
    )


def a_grade(
    task: str, level: str, target: str = "perform", scale: GradeScale = MANOEUVRE
) -> GradeFact:
    """A grade of a task against a target."""
    return GradeFact(task, level, scale.rank(level), target, scale.meets(level, target))


def a_mark(task: str, error: str) -> ErrorFact:
    """An error mark with the severity of the small catalogue."""
    return ErrorFact(task, error, SEVERITY[error])


def a_lesson_fact(
    day: int, *grades: GradeFact, sequence: int | None = None, **changes: Any
) -> LessonFact:
    """A dual lesson flown `day` days after 1 March 2026, named `r<day>` or `r<day>-<sequence>`.

    It was the first attempt at lesson l-1, an hour long, complete and acknowledged, but for
    what `changes` (fields of `LessonFact`) say.
    """
    fact = LessonFact(
        record_id=f"r{day}" if sequence is None else f"r{day}-{sequence}",
        lesson="l-1",
        kind=LessonKind.DUAL,
        flown_on=DAY_ONE + timedelta(days=day),
        sequence=day if sequence is None else sequence,
        attempt=1,
        instructor="ina",
        outcome=Outcome.COMPLETE,
        acknowledged=True,
        grades=grades,
        times=Times(dual=60),
    )
    return replace(fact, **changes)


def a_decision(day: int, error: str, task: str = "run-up") -> CloseDecision:
    """An instructor's decision to close a watch item."""
    decided_on = DAY_ONE + timedelta(days=day)
    return CloseDecision(task, error, decided_on, "ina", "shown to be under control")


def an_event(
    code: str,
    day: int,
    *,
    kind: str = "endorsement",
    expires: int | None = None,
    passed: bool = True,
) -> FiledEvent:
    """Something on file since a day, through another."""
    until = None if expires is None else DAY_ONE + timedelta(days=expires)
    on = DAY_ONE + timedelta(days=day)
    return FiledEvent(
        f"e-{code}-{day}", code, kind, on, until, passed=passed, words=code, filed_by="ina"
    )
