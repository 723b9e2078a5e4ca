"""School watch: which errors recur across students, this month against the one before."""

from flask import Blueprint, render_template, request

from gradebook.records import errorrates
from gradebook.records.store import enrolments, people, standing
from gradebook.views import desk

bp = Blueprint("watch", __name__)


@bp.get("/school")
def school() -> str:
    """Errors by how much they grew, open watch items, lessons most often repeated."""
    wanted = request.args.get("course", "")
    with desk.reading() as act:
        rows = enrolments.enrolments(act.session, act.actor, current=False)
        states = standing.standings(act.session, rows, act.today)
        names = people.names(act.session)
    courses = {state.course.code: state.course for state in states}
    course = courses.get(wanted) or next(iter(courses.values()), None)
    shown = [state for state in states if course and state.course.code == course.code]
    histories = [state.history for state in shown]
    now, before = errorrates.month_of(act.today), errorrates.month_of(act.today, -1)
    return render_template(
        "watch/school.html",
        course=course,
        courses=courses,
        changes=errorrates.compare_periods(histories, now, before),
        rates=errorrates.error_rates(histories),
        now=now,
        before=before,
        watch=[(state, item) for state in shown for item in state.open_watch],
        repeats=errorrates.repeats(histories),
        names=names,
    )
