"""Keeping the needle: after a sign-off, after an import, after new parameters."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.analytics.needle.fitting import fit
from gradebook.analytics.needle.parameters import FEWEST_GRADES
from gradebook.records.graded import StudentFlights, graded, shapes, with_scales
from gradebook.records.jobs import Tell
from gradebook.records.jobs import silent as untold
from gradebook.records.needle import Needle
from gradebook.records.store import courses, enrolments, facts, needles
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.needle import NeedleFit
from gradebook.records.tables.training import Enrolment
from gradebook.records.values import History, LessonFact
from syllabus.course import LessonKind

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
        history = facts.history(session, record.enrolment_id)
        whole = StudentFlights(record.enrolment_id, course, history)
        _foretell_checks(session, [(whole, newest.history[0])], now)
    needles.foretell(session, reading, [record.id])
    needles.keep(session, flights, reading)


def _foretell_checks(
    session: Session,
    checks: Sequence[tuple[StudentFlights, LessonFact]],
    now: needles.InForce,
    *,
    later: bool = False,
) -> None:
    """Keep the chance of passing each check as the lessons before it gave it."""
    earlier = [
        StudentFlights(check.record_id, one.course, _before(one.history, check))
        for one, check in checks
    ]
    known = needles.read_all(earlier, now).done.beliefs
    for one, (_, check) in zip(earlier, checks, strict=True):
        believed = known.get(check.record_id)
        needle = Needle(one.course, now.parameters, believed, one.history, check.flown_on)
        chance = needle.check(one.course.stage_of[check.lesson])
        needles.check_foretold(session, check.record_id, chance, now, later=later)


def _before(history: History, check: LessonFact) -> History:
    """The lessons before one of them."""
    end = (check.flown_on, check.sequence)
    return tuple(fact for fact in history if (fact.flown_on, fact.sequence) < end)


def rebuild(session: Session, enrolments: Sequence[Enrolment], tell: Tell = untold) -> int:
    """Work beliefs out anew from the whole history; returns how many grades were read.

    Records without forecasts get them now, stage checks as a whole too, each from the lessons
    before it, marked as made later.
    """
    session.flush()
    tell("needle", 0, len(enrolments))
    flights = _flights(session, enrolments)
    now = needles.in_force(session, [one.course for one in flights])
    reading = needles.read_all(flights, now)
    missing = {fact.record_id for fact in reading.graded.lessons} - needles.foretold(session)
    needles.foretell(session, reading, missing, later=True)
    known = needles.checks_foretold(session)
    checks = [
        (one, fact)
        for one in flights
        for fact in one.history
        if fact.kind is LessonKind.STAGE_CHECK and fact.record_id not in known
    ]
    _foretell_checks(session, checks, now, later=True)
    for number, one in enumerate(flights):
        tell("needle", number, len(flights))
        if one.history:
            needles.keep(session, one, reading)
        else:  # every lesson was declared void
            needles.forget(session, one.enrolment_id)
    return len(reading.graded.log)


def everybody(session: Session) -> list[Enrolment]:
    """Every enrolment, those that have ended too."""
    return list(session.scalars(select(Enrolment).order_by(Enrolment.id)).unique())


def refit(
    session: Session, at: datetime, report: Report = silent, tell: Tell = untold
) -> NeedleFit | None:
    """Fit the parameters to all counted grades, put them in force and rebuild.

    None, and nothing changes, while there are fewer than `FEWEST_GRADES` counted grades.
    """
    rows = everybody(session)
    flights = _flights(session, rows)
    log = graded(flights).log
    if len(log) < FEWEST_GRADES:
        return None
    start = with_scales(None, shapes([one.course for one in flights]))
    graded_in = set(log.students)
    heads = enrolments.heads(one for one in rows if one.id in graded_in)
    fitted = replace(fit(log, start, report), students=heads)
    row = NeedleFit(
        made_at=at,
        grades=fitted.grades,
        students=fitted.students,
        parameters=with_scales(fitted, shapes([one.course for one in flights])).as_text(),
    )
    session.add(row)
    session.flush()
    rebuild(session, rows, tell)
    return row


def renew(session: Session, at: datetime, report: Report = silent) -> int:
    """Renew what an earlier arithmetic left: how many beliefs and fits that were.

    A fit of an earlier arithmetic is made anew where there are grades enough for one.
    """
    found = needles.outdated(session)
    if not found:
        return 0
    fit_id = needles.newest_fit(session)
    stale = fit_id is not None and not needles.is_fit_current(session, fit_id)
    if not (stale and refit(session, at, report)):
        rebuild(session, everybody(session))
    return found


def _flights(session: Session, enrolments: Sequence[Enrolment]) -> list[StudentFlights]:
    histories = facts.histories(session, [row.id for row in enrolments])
    return [
        StudentFlights(row.id, courses.course_of(session, row.revision_id), histories[row.id])
        for row in enrolments
    ]
