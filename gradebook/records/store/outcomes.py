"""Forecasts and what came of them."""

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.records.lifecycle import EFFECTIVE
from gradebook.records.store import courses
from gradebook.records.tables.lessons import Grade, LessonRecord
from gradebook.records.tables.needle import NeedleForecast


@dataclass(frozen=True, slots=True)
class Outcome:
    """One forecast of one grade: the `chance` told before its lesson for whoever graded it.

    `met`: whether the grade met the standard. `later`: the forecast was worked out after the
    fact, from the lessons before it alone. `fit_id`: the parameters it was made under, None
    for the published defaults.
    """

    chance: float
    met: bool
    later: bool
    fit_id: str | None


def outcomes(session: Session) -> list[Outcome]:
    """Every forecast whose grade counts today, whoever the student is."""
    query = (
        select(
            NeedleForecast.chance,
            NeedleForecast.later,
            NeedleForecast.fit_id,
            NeedleForecast.task,
            Grade.level,
            LessonRecord.revision_id,
        )
        .join(LessonRecord, LessonRecord.id == NeedleForecast.record_id)
        .join(Grade, (Grade.record_id == LessonRecord.id) & (Grade.task == NeedleForecast.task))
        .where(LessonRecord.state.in_(EFFECTIVE))
    )
    found = []
    for row in session.execute(query):
        task = courses.course_of(session, row.revision_id).task_by_code[row.task]
        met = task.scale.meets(row.level)
        if met is not None:
            found.append(Outcome(row.chance, met, row.later, row.fit_id))
    return found
