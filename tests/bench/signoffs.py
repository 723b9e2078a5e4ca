"""Signing off inside the database: the needle's part of it, in a small SQLite school."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
from sqlalchemy.orm import Session

from gradebook.records.commands import needling
from gradebook.records.tables.lessons import Grade, LessonRecord
from gradebook.records.tables.training import Enrolment
from gradebook.records.values import Outcome, State
from syllabus.course import LessonKind
from tests.bench.measuring import Figure, groupby, timed
from tests.bench.reading import LESSON_GRADES
from tests.bench.schools import SEED, Sizes
from tests.cast import MORNING, TestSchool, close_school, open_school
from tests.small_course import FILES

TASK = """
[[task]]
code = "task-{0}"
title = "Task {0}"
phase = "flight"
words = "Flies it."
source = "school"
references = []
elements = []
criteria = []
errors = []
"""
LEVELS = "describe", "explain", "practice", "perform"


def signing(size: Sizes) -> Iterator[Figure]:
    """`take_in` of lesson after lesson of 20 grades; the median over the later half."""
    tasks = [f"task-{number:02d}" for number in range(size.tasks)]
    with TemporaryDirectory() as folder:
        school = open_school(Path(folder), files=_course(tasks))
        times = [_sign(school, number, tasks) for number in range(2 * size.lessons)]
        close_school(school)
    rows = pd.DataFrame(
        {"student": "S", "task": tasks[:LESSON_GRADES], "grade": 1}, index=range(LESSON_GRADES)
    )
    base = groupby(rows, size.many)
    yield base.of_runs("sign-off in SQLite", times[size.lessons :], LESSON_GRADES)


def _course(tasks: list[str]) -> dict[str, str]:
    """The small course with more tasks."""
    more = "".join(TASK.format(name.removeprefix("task-")) for name in tasks)
    flow = "".join(f'"{name}", ' for name in tasks)
    course = FILES["course.toml"].replace("flow = [", f"flow = [{flow}")
    every = FILES["tasks/all.toml"] + more
    return {**FILES, "course.toml": course, "tasks/all.toml": every}


def _sign(school: TestSchool, number: int, tasks: list[str]) -> tuple[float, float]:
    """Wall and CPU seconds of the needle's part in one more signed lesson, flush included."""
    rng = np.random.default_rng((SEED, number))
    chosen = rng.choice(tasks, LESSON_GRADES, replace=False)
    with school.database.write() as session:
        record = _record(session, school, number)
        rows = [_grade(record, place, task, rng) for place, task in enumerate(chosen)]
        session.add_all(rows)
        session.flush()
        session.refresh(record, ["grades", "errors"])  # in memory, as after a signature

        def work() -> None:
            needling.take_in(session, record)
            session.flush()

        return timed(work)


def _record(session: Session, school: TestSchool, number: int) -> LessonRecord:
    enrolment = session.get_one(Enrolment, school.enrolment)
    at = MORNING + timedelta(days=number)
    record = LessonRecord(
        enrolment_id=enrolment.id,
        revision_id=enrolment.revision_id,
        lesson="s-01",
        kind=LessonKind.DUAL.value,
        attempt=number + 1,
        instructor_id=school.ids["ben"],
        state=State.SIGNED.value,
        card={},
        created_at=at,
        saved_at=at,
        flown_on=at.date(),
        outcome=Outcome.COMPLETE.value,
        times={},
        sequence=number + 1,
        signed_at=at,
        digest="0" * 64,
    )
    session.add(record)
    session.flush()
    return record


def _grade(record: LessonRecord, place: int, task: str, rng: np.random.Generator) -> Grade:
    level = int(rng.integers(len(LEVELS)))
    return Grade(
        record_id=record.id,
        place=place,
        task=str(task),
        scale="LCG-MAN",
        level=LEVELS[level],
        rank=level + 1,
        target="perform",
        meets=level + 1 == len(LEVELS),
    )
