"""Keeping the needle: after a sign-off, after an import, after new parameters."""

from collections.abc import Callable, Sequence
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.analytics.needle.fitting import fit
from gradebook.analytics.needle.parameters import FEWEST_GRADES
from gradebook.records.graded import StudentFlights, graded, shapes, with_scales
from gradebook.records.needle import Needle
from gradebook.records.store import courses, facts, needles
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.needle import NeedleFit
from gradebook.records.tables.training import Enrolment
from syllabus.course import Course, LessonKind

Report = Callable[[str], None]


def silent(_words: str) -> None:
    """A report nobody reads."""


def take_in(session: Session, record: LessonRecord) -> None:
    """Let the needle see a record just signed, and keep what was expected of it.

    The last lesson of its student costs its own grades; one that came late, or amends
    another, a reading of the whole history.
    """
    session.flush()
    course = courses.course_of(session, record.enrolment.revision_id)
    now = needles.in_force(session, [course])
    newest = StudentFlights(record.enrolment_id, course, (facts.fact_of(record),))
    row = needles.goes_on(session, now, newest)
    if row is not None and record.supersedes_id is None:
        flights, reading = newest, needles.read_on(row, newest, now)
    else:
        flights = _flights(session, [record.enrolment])[0]
        reading = needles.read_all([flights], now)
    if record.kind == LessonKind.STAGE_CHECK:
        _foretell_check(session, record, course, now)
    needles.foretell(session, reading, [record.id])
    needles.keep(session, flights, reading)


def _foretell_check(
    session: Session, record: LessonRecord, course: Course, now: needles.InForce
) -> None:
    """Keep the chance of passing as the lessons before the check gave it."""
    history = facts.history(session, record.enrolment_id)
    newest = facts.fact_of(record)
    earlier = tuple(
        fact
        for fact in history
        if (fact.flown_on, fact.sequence) < (newest.flown_on, newest.sequence)
    )
    flights = StudentFlights(record.enrolment_id, course, earlier)
    before = needles.read_all([flights], now).done.beliefs.get(record.enrolment_id)
    needle = Needle(course, now.parameters, before, earlier, newest.flown_on)
    chance = needle.check(course.stage_of[record.lesson])
    needles.check_foretold(session, record.id, chance, now)


def rebuild(session: Session, enrolments: Sequence[Enrolment]) -> int:
    """Work beliefs out anew from the whole history; returns how many grades were read.

    Records without forecasts get them now, each from the lessons before it, marked as made
    later.
    """
    session.flush()
    flights = _flights(session, enrolments)
    now = needles.in_force(session, [one.course for one in flights])
    reading = needles.read_all(flights, now)
    missing = {fact.record_id for fact in reading.graded.lessons} - needles.foretold(session)
    needles.foretell(session, reading, missing, later=True)
    for one in flights:
        if one.history:
            needles.keep(session, one, reading)
    return len(reading.graded.log)


def everybody(session: Session) -> list[Enrolment]:
    """Every enrolment, those that have ended too."""
    return list(session.scalars(select(Enrolment).order_by(Enrolment.id)).unique())


def refit(session: Session, at: datetime, report: Report = silent) -> NeedleFit | None:
    """Fit the parameters to all counted grades, put them in force and rebuild.

    None, and nothing changes, while there are fewer than `FEWEST_GRADES` counted grades.
    """
    rows = everybody(session)
    flights = _flights(session, rows)
    log = graded(flights).log
    if len(log) < FEWEST_GRADES:
        return None
    start = with_scales(None, shapes([one.course for one in flights]))
    fitted = fit(log, start, report)
    row = NeedleFit(
        made_at=at,
        grades=fitted.grades,
        students=fitted.students,
        parameters=with_scales(fitted, shapes([one.course for one in flights])).as_text(),
    )
    session.add(row)
    session.flush()
    rebuild(session, rows)
    return row


def _flights(session: Session, enrolments: Sequence[Enrolment]) -> list[StudentFlights]:
    histories = facts.histories(session, [row.id for row in enrolments])
    return [
        StudentFlights(row.id, courses.course_of(session, row.revision_id), histories[row.id])
        for row in enrolments
    ]
