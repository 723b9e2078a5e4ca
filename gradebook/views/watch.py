"""School watch: errors, grading, progress and forecasts across students."""

from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Response, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from gradebook import formats
from gradebook.analytics.connections import Connections, connect
from gradebook.analytics.examined import FEWEST, Examined, examine
from gradebook.analytics.instructors import InstructorDiagnostics
from gradebook.analytics.needle.parameters import Parameters
from gradebook.charts import checks, forecasts, recurring
from gradebook.charts import school as charts
from gradebook.charts.chart import Chart
from gradebook.charts.revisions import revisions
from gradebook.records import errorrates
from gradebook.records.errorrates import Period
from gradebook.records.examined import check_pairs, lessons_before
from gradebook.records.faults import UnknownError
from gradebook.records.store import needles
from gradebook.records.store.outcomes import Outcomes, foretelling, outcomes
from gradebook.records.store.watched import Watched, by_student, flights, watched
from gradebook.records.trail import school_trail
from gradebook.views import desk, places, tables
from syllabus.saying import say

bp = Blueprint("watch", __name__, url_prefix="/school")


def _school() -> Watched:
    with desk.reading() as act:
        wanted = request.args.get("course", "")
        return watched(act.session, act.actor, act.today, wanted, act.zone)


@bp.get("")
def school() -> str | AnyResponse:
    """Errors by how much they grew, what recurs in whom, open watch items."""
    if (chosen := places.recalled("course")) is not None:
        return chosen
    here = _school()
    now, before = errorrates.month_of(here.today), errorrates.month_of(here.today, -1)
    found = here.kept("errors", lambda: _errors(here, now, before))
    return render_template(
        "watch/school.html",
        here=here,
        **found,
        now=now,
        before=before,
        watch=[
            (state, item)
            for state in here.shown
            if state.enrolment.ended_on is None
            for item in state.open_watch
        ],
    )


def _errors(here: Watched, now: Period, before: Period) -> dict[str, Any]:
    """What the page says of errors, by the names its template has for it."""
    histories, changes = here.histories, errorrates.compare_periods
    marks = recurring.read_marks([state.history for state in here.shown])
    return {
        "grown": [one for one in changes(histories, now, before) if one.change > 0],
        "rates": errorrates.error_rates(histories),
        "recurring": recurring.recurring(marks),
        "together": recurring.together(marks),
    }


@bp.get("/instructors")
def instructors() -> str | AnyResponse:
    """Who grades harder than the school, and how sure that is; spread, halo, drift, checks."""
    if (chosen := places.recalled("course")) is not None:
        return chosen
    here = _school()
    parameters = here.parameters
    if parameters is None:
        return render_template("watch/instructors.html", here=here, chart=None, grading=())
    found = _grading(here, parameters)
    made = (checks.before_checks, checks.checked)
    return render_template(
        "watch/instructors.html",
        here=here,
        parameters=parameters,
        chart=charts.severity(parameters, here.names),
        links=found.links,
        grading=sorted(found.each, key=lambda one: here.names.get(one.instructor, "")),
        examined=found.examined,
        checks=[make(found.examined, here.names) for make in made],
        fewest=FEWEST,
    )


@dataclass(frozen=True, slots=True)
class _Grading:
    """How the instructors grade: how far they can be compared, each one, their checks."""

    links: Connections
    each: tuple[InstructorDiagnostics, ...]
    examined: Examined


def _grading(here: Watched, parameters: Parameters) -> _Grading:
    def work() -> _Grading:
        flown = flights(here.everybody)
        trail = school_trail(flown, parameters)
        examined = examine(lessons_before(trail), check_pairs(flown))
        return _Grading(connect(trail.frame), charts.grading(trail, parameters), examined)

    return here.kept("grading", work)


@bp.get("/progress")
def progress() -> str | AnyResponse:
    """Which tasks take long and which lessons are flown again; what a revision changed."""
    if (chosen := places.recalled("course")) is not None:
        return chosen
    here = _school()
    if here.course is None:
        return render_template("watch/progress.html", here=here, chart=None)
    groups = here.by_revision
    return render_template(
        "watch/progress.html",
        here=here,
        chart=charts.slowest(here.course, here.attempts),
        times=charts.times(here.course, here.attempts),
        revisions=revisions(here.course, groups) if len(groups) > 1 else None,
        failed=charts.failed_after_proof(by_student(here.shown).values()),
        repeats=errorrates.repeats([state.history for state in here.shown]),
    )


@bp.get("/forecasts")
def forecast() -> str | AnyResponse:
    """Of the forecasts at 70 to 80 %, how many came true."""
    if (chosen := places.recalled("course")) is not None:
        return chosen
    with desk.reading() as act:
        here = foretelling(act.session, act.actor, request.args.get("course", ""))
        fits = {
            row.id: say(
                "Fitted {moment} to {grades} grades",
                moment=formats.moment(row.made_at, act.zone),
                grades=row.grades,
            )
            for row in needles.fits(act.session)
        }
    told = here.outcomes
    return render_template(
        "watch/forecasts.html",
        here=here,
        chart=forecasts.forecasts(told) if told else None,
        worth=forecasts.worth(told),
        made=forecasts.worth_by_fit(told, fits),
        later=sum(one.n for one in told if one.later),
        parameters=here.parameters,
        checks=here.checks,
    )


def _outcomes() -> list[Outcomes]:
    with desk.reading() as act:
        return outcomes(act.session)


def _chart(key: str) -> Chart:
    if key == "forecasts" and (told := _outcomes()):
        return forecasts.forecasts(told)
    here = _school()
    found = _of_instructors(key, here) or _of_course(key, here)
    if found is None:
        raise UnknownError
    return found


def _of_instructors(key: str, here: Watched) -> Chart | None:
    parameters = here.parameters
    if parameters is None:
        return None
    if key == "severity":
        return charts.severity(parameters, here.names)
    make = {"before-checks": checks.before_checks, "checked": checks.checked}.get(key)
    if make is None:
        return None
    return make(_grading(here, parameters).examined, here.names)


def _of_course(key: str, here: Watched) -> Chart | None:
    if here.course is None:
        return None
    if key == "times":
        return charts.slowest(here.course, here.attempts)
    groups = here.by_revision
    return revisions(here.course, groups) if key == "revisions" and len(groups) > 1 else None


PAGES = {
    "forecasts": ("Forecasts", "watch.forecast"),
    "severity": ("Instructors", "watch.instructors"),
    "before-checks": ("Instructors", "watch.instructors"),
    "checked": ("Instructors", "watch.instructors"),
    "times": ("Progress", "watch.progress"),
    "revisions": ("Progress", "watch.progress"),
}


@bp.get("/charts/<key>")
def explore(key: str) -> str:
    """One chart of the school, large, with its numbers."""
    found, course = _chart(key), request.args.get("course")
    title, page = PAGES[key]
    trail = [
        (say("School watch"), url_for("watch.school", course=course)),
        (title, url_for(page, course=course)),
    ]
    return tables.explore(found, trail, url_for("watch.csv", key=key, course=course))


@bp.get("/charts/<key>.csv")
def csv(key: str) -> Response:
    """The numbers of one chart of the school."""
    return tables.csv(_chart(key))
