"""School watch: errors, grading, progress and forecasts across students."""

from dataclasses import dataclass
from datetime import date

from flask import Blueprint, Response, render_template, request, url_for

from gradebook import formats
from gradebook.analytics.connections import connect
from gradebook.analytics.needle.parameters import Parameters
from gradebook.charts import forecasts, recurring
from gradebook.charts import school as charts
from gradebook.charts.chart import Chart
from gradebook.records import errorrates
from gradebook.records.attempts import attempts_of
from gradebook.records.faults import UnknownError
from gradebook.records.graded import StudentFlights
from gradebook.records.store import enrolments, needles, people, standing
from gradebook.records.store.outcomes import Outcome, outcomes
from gradebook.records.store.standing import Standing
from gradebook.records.trail import as_frame, school_trail
from gradebook.views import desk, tables
from syllabus.course import Course

bp = Blueprint("watch", __name__, url_prefix="/school")


@dataclass(frozen=True)
class School:
    """Every student the reader may see, and the course the pages are about."""

    everybody: list[Standing]
    names: dict[str, str]
    courses: dict[str, Course]
    course: Course | None
    today: date

    @property
    def shown(self) -> list[Standing]:
        """The students of the course."""
        code = self.course.code if self.course else None
        return [state for state in self.everybody if state.course.code == code]

    @property
    def parameters(self) -> Parameters | None:
        """The needle's parameters in force; None in a school without students."""
        return self.everybody[0].parameters if self.everybody else None


def _school() -> School:
    with desk.reading() as act:
        rows = enrolments.enrolments(act.session, act.actor, current=False)
        states = standing.standings(act.session, rows, act.today)
        names = people.names(act.session)
    courses = {state.course.code: state.course for state in states}
    wanted = courses.get(request.args.get("course", ""))
    course = wanted or next(iter(courses.values()), None)
    return School(states, names, courses, course, act.today)


@bp.get("")
def school() -> str:
    """Errors by how much they grew, what recurs in whom, open watch items."""
    here = _school()
    histories = [state.history for state in here.shown]
    now, before = errorrates.month_of(here.today), errorrates.month_of(here.today, -1)
    return render_template(
        "watch/school.html",
        here=here,
        changes=errorrates.compare_periods(histories, now, before),
        rates=errorrates.error_rates(histories),
        now=now,
        before=before,
        recurring=recurring.recurring(here.shown),
        together=recurring.together(here.shown),
        watch=[(state, item) for state in here.shown for item in state.open_watch],
    )


@bp.get("/instructors")
def instructors() -> str:
    """Who grades harder than the school, and how sure that is; spread, halo, drift."""
    here = _school()
    parameters = here.parameters
    if parameters is None:
        return render_template("watch/instructors.html", here=here, chart=None, grading=())
    trail = school_trail(_flights(here.everybody), parameters)
    return render_template(
        "watch/instructors.html",
        here=here,
        parameters=parameters,
        chart=charts.severity(parameters, here.names),
        links=connect(as_frame(trail)),
        grading=sorted(
            charts.grading(trail, parameters),
            key=lambda one: here.names.get(one.instructor, ""),
        ),
    )


@bp.get("/progress")
def progress() -> str:
    """Which tasks take long and which lessons are flown again."""
    here = _school()
    if here.course is None:
        return render_template("watch/progress.html", here=here, chart=None)
    flights = _flights(here.shown)
    attempts = attempts_of(flights)
    return render_template(
        "watch/progress.html",
        here=here,
        chart=charts.slowest(here.course, attempts),
        times=charts.times(here.course, attempts),
        failed=charts.failed_after_proof(flights),
        repeats=errorrates.repeats([state.history for state in here.shown]),
    )


@bp.get("/forecasts")
def forecast() -> str:
    """Of the forecasts at 70 to 80 %, how many came true."""
    here = _school()
    with desk.reading() as act:
        told = outcomes(act.session)
        fits = {
            row.id: f"Fitted {formats.moment(row.made_at, act.zone)} to {row.grades} grades"
            for row in needles.fits(act.session)
        }
    chances, met = [one.chance for one in told], [one.met for one in told]
    return render_template(
        "watch/forecasts.html",
        here=here,
        chart=forecasts.forecasts(chances, met) if told else None,
        worth=forecasts.worth(chances, met),
        made=forecasts.worth_by_fit(told, fits),
        later=sum(one.later for one in told),
        parameters=here.parameters,
        checks=here.everybody[0].checks if here.everybody else None,
    )


def _flights(states: list[Standing]) -> list[StudentFlights]:
    return [StudentFlights(one.enrolment.id, one.course, one.history) for one in states]


def _outcomes() -> list[Outcome]:
    with desk.reading() as act:
        return outcomes(act.session)


def _chart(key: str) -> Chart:
    if key == "forecasts" and (told := _outcomes()):
        return forecasts.forecasts([one.chance for one in told], [one.met for one in told])
    here = _school()
    if key == "severity" and here.parameters is not None:
        return charts.severity(here.parameters, here.names)
    if key == "times" and here.course is not None:
        return charts.slowest(here.course, attempts_of(_flights(here.shown)))
    raise UnknownError


PAGES = {
    "forecasts": ("Forecasts", "watch.forecast"),
    "severity": ("Instructors", "watch.instructors"),
    "times": ("Progress", "watch.progress"),
}


@bp.get("/charts/<key>")
def explore(key: str) -> str:
    """One chart of the school, large, with its numbers."""
    found, course = _chart(key), request.args.get("course")
    title, page = PAGES[key]
    trail = [
        ("School watch", url_for("watch.school", course=course)),
        (title, url_for(page, course=course)),
    ]
    return tables.explore(found, trail, url_for("watch.csv", key=key, course=course))


@bp.get("/charts/<key>.csv")
def csv(key: str) -> Response:
    """The numbers of one chart of the school."""
    return tables.csv(_chart(key))
