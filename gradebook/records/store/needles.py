"""The needle in the database: parameters in force, beliefs by student, forecasts made."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from gradebook.analytics.needle.beliefs import MARK, Beliefs, beliefs_from, is_current
from gradebook.analytics.needle.floats import Floats
from gradebook.analytics.needle.foretold import chances, graders
from gradebook.analytics.needle.parameters import ARITHMETIC, Parameters, parameters_from
from gradebook.analytics.needle.replay import Replay, advance, replay
from gradebook.analytics.readiness import Calibration, CheckChance, calibrate
from gradebook.records.graded import Graded, StudentFlights, graded, shapes, with_scales
from gradebook.records.lifecycle import EFFECTIVE
from gradebook.records.store.facts import IDS
from gradebook.records.store.together import Asked
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.needle import NeedleFit, NeedleForecast, NeedleState
from gradebook.records.values import Outcome
from syllabus.course import Course

WHOLE_CHECK = ""
"""Stands for the task where a forecast is about a stage check as a whole."""


@dataclass(frozen=True, slots=True)
class InForce:
    """The parameters in force, and the fit they come from (None: the published defaults)."""

    fit_id: str | None
    parameters: Parameters


_kept: dict[str, Parameters] = {}
"""The parameters of fits by their id: a fit never changes, so it is kept read."""


def in_force(session: Session, courses: Iterable[Course]) -> InForce:
    """The newest fit, knowing the scales of these courses."""
    return knowing(session, newest_fit(session), courses)


def knowing(session: Session, fit_id: str | None, courses: Iterable[Course]) -> InForce:
    """A fit (None: the published defaults), knowing the scales of these courses."""
    wanted = shapes(courses)
    if fit_id is None:
        return InForce(None, with_scales(None, wanted))
    if fit_id not in _kept:
        _kept[fit_id] = parameters_from(session.get_one(NeedleFit, fit_id).parameters)
    return InForce(fit_id, with_scales(_kept[fit_id], wanted))


def fits(session: Session) -> list[NeedleFit]:
    """Every fit there was, oldest first."""
    return list(session.scalars(select(NeedleFit).order_by(NeedleFit.made_at)))


NEWEST = Asked(
    select(NeedleFit.id).order_by(NeedleFit.made_at.desc(), NeedleFit.grades.desc()).limit(1)
)
"""The fit in force; no row while the defaults are."""


def newest_fit(session: Session) -> str | None:
    """The fit in force, None while the defaults are."""
    found: str | None = session.scalar(NEWEST.query)
    return found


STATE = Asked(
    select(
        NeedleState.enrolment_id,
        NeedleState.fit_id,
        NeedleState.flown_on,
        NeedleState.sequence,
        NeedleState.tasks,
        NeedleState.numbers,
    ).where(NeedleState.enrolment_id.in_(IDS))
)
"""What is kept of these enrolments (`enrolment_ids`)."""


def beliefs(
    kept: Iterable[Any], flights: Sequence[StudentFlights], now: InForce
) -> dict[str, Beliefs]:
    """What is believed of each student, by enrolment; those without a counted grade left out.

    Beliefs kept (rows of STATE) under other parameters, or missing, are worked out from the
    history.
    """
    rows = {row.enrolment_id: row for row in kept}
    found, stale = dict[str, Beliefs](), list[StudentFlights]()
    for one in flights:
        row = rows.get(one.enrolment_id)
        if row is None or not _is_of(row, one, now):
            stale.append(one)
        else:
            found[row.enrolment_id] = _beliefs(row, now.parameters)
    if stale:
        found.update(replay(graded(stale).log, now.parameters).beliefs)
    return found


def _is_of(row: Any, flights: StudentFlights, now: InForce) -> bool:  # noqa: ANN401
    """Whether kept beliefs are of this arithmetic, these parameters, this last lesson."""
    if row.fit_id != now.fit_id or not flights.history or not is_current(row.numbers):
        return False
    last = flights.history[-1]
    return (row.flown_on, row.sequence) == (last.flown_on, last.sequence)


def _beliefs(row: Any, parameters: Parameters) -> Beliefs:  # noqa: ANN401 - a row of STATE
    return beliefs_from(row.tasks, row.numbers, parameters.nodes)


def goes_on(session: Session, now: InForce, flights: StudentFlights) -> NeedleState | None:
    """The beliefs that these newer lessons go on from; None when all must be read anew.

    Every sign-off keeps the beliefs up, so beliefs under the parameters in force that end
    before the first of these lessons lack nothing else.
    """
    row = session.get(NeedleState, flights.enrolment_id)
    first = flights.history[0]
    if row is None or row.fit_id != now.fit_id or not is_current(row.numbers):
        return None
    return row if (row.flown_on, row.sequence) < (first.flown_on, first.sequence) else None


@dataclass(frozen=True, slots=True)
class Reading:
    """Grades read by the needle: what they were, what came of them, under which parameters.

    `whole`: read from the first lesson on, so that nothing from before is left.
    """

    graded: Graded
    done: Replay
    now: InForce
    whole: bool


def read_on(row: NeedleState, flights: StudentFlights, now: InForce) -> Reading:
    """Read newer lessons of one student after those already read: O(new grades)."""
    step = graded([flights])
    done = advance(step.log, now.parameters, _beliefs(row, now.parameters))
    return Reading(step, done, now, whole=False)


def read_all(flights: Sequence[StudentFlights], now: InForce) -> Reading:
    """Read whole histories from the first lesson."""
    step = graded(flights)
    return Reading(step, replay(step.log, now.parameters), now, whole=True)


def keep(session: Session, flights: StudentFlights, reading: Reading) -> None:
    """Keep the beliefs of one student as they stand after the last of these lessons."""
    row = session.get(NeedleState, flights.enrolment_id)
    after = reading.done.beliefs.get(flights.enrolment_id)
    if after is None and (row is None or reading.whole):
        if row is not None:
            session.delete(row)
        return
    last = flights.history[-1]
    if row is None:
        row = NeedleState(enrolment_id=flights.enrolment_id)
        session.add(row)
    row.fit_id, row.flown_on, row.sequence = reading.now.fit_id, last.flown_on, last.sequence
    if after is not None:
        row.tasks, row.numbers = list(after.tasks), after.as_bytes()


def foretell(
    session: Session, reading: Reading, records: Collection[str], *, later: bool = False
) -> None:
    """Keep what was expected of these records' grades."""
    wanted = set(records)
    rows = [at for at, fact in enumerate(reading.graded.lessons) if fact.record_id in wanted]
    own, neutral, low, high = _expected(reading)
    session.add_all(
        NeedleForecast(
            record_id=reading.graded.lessons[at].record_id,
            task=reading.graded.grades[at].task,
            fit_id=reading.now.fit_id,
            chance=float(own[at]),
            neutral=float(neutral[at]),
            low=float(low[at]),
            high=float(high[at]),
            later=later,
        )
        for at in rows
    )


def _expected(reading: Reading) -> tuple[Floats, Floats, Floats, Floats]:
    """Chances [N] for the grader, for a neutral one, and the neutral interval."""
    log, parameters = reading.graded.log, reading.now.parameters
    severity, doubt = graders(log, parameters)
    none = np.zeros(len(log))
    own, _, _ = chances(reading.done, severity, doubt, parameters)
    return (own, *chances(reading.done, none, none, parameters))


def outdated(session: Session) -> int:
    """How many students' beliefs, and fits in force, are of an earlier arithmetic.

    Nobody sees them: pages work beliefs out anew, which takes longer.
    """
    mark = func.substr(NeedleState.numbers, 1, len(MARK))
    beliefs = session.scalar(select(func.count()).where(mark != MARK)) or 0
    fit_id = newest_fit(session)
    return beliefs + (fit_id is not None and not is_fit_current(session, fit_id))


def is_fit_current(session: Session, fit_id: str) -> bool:
    """Whether a fit is of this arithmetic."""
    text = session.get_one(NeedleFit, fit_id).parameters
    return parameters_from(text).arithmetic == ARITHMETIC


def forget(session: Session, enrolment_id: str | None = None) -> None:
    """Throw away one student's beliefs, or every student's; forecasts stay."""
    beliefs = delete(NeedleState)
    if enrolment_id is not None:
        beliefs = beliefs.where(NeedleState.enrolment_id == enrolment_id)
    session.execute(beliefs)


def foretold(session: Session) -> set[str]:
    """The records that have forecasts."""
    return set(session.scalars(select(NeedleForecast.record_id).distinct()))


def checks_foretold(session: Session) -> set[str]:
    """The stage checks whose chance of passing has been kept."""
    query = select(NeedleForecast.record_id).where(NeedleForecast.task == WHOLE_CHECK)
    return set(session.scalars(query))


def check_foretold(
    session: Session, record_id: str, chance: CheckChance, now: InForce, *, later: bool
) -> None:
    """Keep the chance of passing a stage check as it stood before the check.

    `later`: worked out after the fact, from the lessons before it alone.
    """
    session.add(
        NeedleForecast(
            record_id=record_id,
            task=WHOLE_CHECK,
            fit_id=now.fit_id,
            chance=chance.chance,
            neutral=chance.chance,
            low=chance.low,
            high=chance.high,
            later=later,
        )
    )


CHECKED = Asked(
    select(NeedleForecast.chance, LessonRecord.outcome)
    .join(LessonRecord, LessonRecord.id == NeedleForecast.record_id)
    .where(
        NeedleForecast.task == WHOLE_CHECK,
        LessonRecord.state.in_(EFFECTIVE),
        LessonRecord.outcome.in_((Outcome.PASSED, Outcome.FAILED)),
    )
)
"""The chance of each stage check flown so far, and its outcome."""


def calibration(rows: Sequence[Any]) -> Calibration:
    """The calibration of the chance of passing on the checks flown so far, in any order.

    It takes longer than the rest of a page, and another check is seldom flown.
    """
    checks = ((row.chance, row.outcome == Outcome.PASSED) for row in rows)
    return _calibrated(tuple(sorted(checks)))


@lru_cache(16)
def _calibrated(checks: tuple[tuple[float, bool], ...]) -> Calibration:
    chances, passed = np.array(checks, float).reshape(-1, 2).T
    return calibrate(chances, passed)
