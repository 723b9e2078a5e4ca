"""What the database counts or hands over column by column is what the whole rows say."""

import numpy as np
from sqlalchemy import select

from gradebook.analytics.metrics import brier
from gradebook.analytics.needle.coefficients import default_parameters
from gradebook.charts.forecasts import worth
from gradebook.records.graded import StudentFlights, graded
from gradebook.records.store import cohort, courses, facts
from gradebook.records.store.outcomes import Outcomes, outcomes
from gradebook.records.tables.lessons import Grade, LessonRecord
from gradebook.records.tables.needle import NeedleForecast
from gradebook.records.tables.training import Enrolment
from tests.bench import years
from tests.story import tell


def one_by_one(session):
    """Every forecast with its grade, and whether that met the standard."""
    query = (
        select(NeedleForecast, Grade.level, LessonRecord.revision_id)
        .join(LessonRecord, LessonRecord.id == NeedleForecast.record_id)
        .join(Grade, (Grade.record_id == LessonRecord.id) & (Grade.task == NeedleForecast.task))
        .where(LessonRecord.state.in_(["signed", "acknowledged"]))
    )
    for row, level, revision in session.execute(query):
        scale = courses.course_of(session, revision).task_by_code[row.task].scale
        if (met := scale.meets(level)) is not None:
            yield row.chance, met


def test_forecasts_are_counted_by_tenths_as_one_by_one(either_school):
    tell(either_school)
    with either_school.database.read() as session:
        told, each = outcomes(session), list(one_by_one(session))
    assert each
    for tenth in range(10):
        here = [one for one in told if one.tenth == tenth]
        there = [(chance, met) for chance, met in each if min(9, int(10 * chance)) == tenth]
        assert sum(one.n for one in here) == len(there)
        assert sum(one.n for one in here if one.met) == sum(met for _, met in there)
        total = sum(one.total for one in here)
        assert np.isclose(total, sum(chance for chance, _ in there))


def test_the_score_of_counted_forecasts_is_that_of_each():
    random = np.random.default_rng(5)
    chances, met = random.random(300), random.random(300) < 0.6
    told = [
        Outcomes(
            min(9, int(10 * p)), bool(y), later=False, fit_id=None, n=1, total=p, squares=p * p
        )
        for p, y in zip(chances, met, strict=True)
    ]
    found = worth(told)
    assert found is not None
    assert found.n == len(told)
    assert np.isclose(found.score, brier(met, chances))
    assert np.isclose(found.base, met.mean() * (1 - met.mean()))


def test_a_cohort_is_read_as_its_histories_are(either_school):
    tell(either_school)
    years.grow(either_school.database.engine, copies=2, current=1)
    with either_school.database.read() as session:
        rows = list(session.scalars(select(Enrolment).order_by(Enrolment.id)).unique())
        told = facts.histories(session, [row.id for row in rows])
        flights = [
            StudentFlights(row.id, courses.course_of(session, row.revision_id), told[row.id])
            for row in rows
        ]
        known = default_parameters([])
        among = cohort.cohort(session, rows[0].course, known).log
        nobody = cohort.cohort(session, "no such course", known).log
    whole = graded(flights).log
    assert len(among) > len(among.students) > 1
    assert len(nobody) == 0
    for name in ("students", "tasks", "instructors", "scales"):
        assert getattr(among, name) == getattr(whole, name)
    for name in ("student", "task", "instructor", "scale", "grade", "day", "opens"):
        assert np.array_equal(getattr(among, name), getattr(whole, name))
