"""The door: every endpoint has an action, or stands on the short list of public ones."""

from collections.abc import Mapping

from flask import Flask, abort, g, redirect, request, url_for
from werkzeug.wrappers import Response

from gradebook.records.commands import people as accounts
from gradebook.records.permissions import Action, Relation, may
from gradebook.records.store import people
from gradebook.views import desk

COOKIE = "windtee_session"
PUBLIC = frozenset({"static", "auth.sign_in", "auth.set_theme", "health.alive"})
OWN_ACCOUNT = frozenset({"auth.sign_out", "auth.secret"})
EVERY_RELATION = frozenset(Relation)

POLICY: Mapping[str, Action] = {
    "auth.sign_out": Action.HOME_READ,
    "auth.secret": Action.HOME_READ,
    "day.home": Action.HOME_READ,
    "students.index": Action.STUDENT_READ,
    "students.page": Action.STUDENT_READ,
    "tasks.page": Action.STUDENT_READ,
    "tasks.explore": Action.STUDENT_READ,
    "tasks.csv": Action.STUDENT_READ,
    "tasks.cohort": Action.STUDENT_READ,
    "tasks.cohort_explore": Action.STUDENT_READ,
    "tasks.cohort_csv": Action.STUDENT_READ,
    "tasks.close_watch": Action.WATCH_CLOSE,
    "students.folder": Action.RECORD_READ,
    "students.judge": Action.SELF_GRADE,
    "filing.events": Action.STUDENT_READ,
    "filing.add": Action.EVENT_FILE,
    "lessons.choose": Action.RECORD_OPEN,
    "lessons.open_card": Action.RECORD_OPEN,
    "lessons.card": Action.RECORD_GRADE,
    "lessons.save": Action.RECORD_GRADE,
    "lessons.discard": Action.RECORD_DISCARD,
    "flow.run": Action.RECORD_GRADE,
    "flow.step": Action.RECORD_GRADE,
    "signing.review": Action.RECORD_GRADE,
    "signing.sign": Action.RECORD_SIGN,
    "signing.acknowledge": Action.RECORD_ACKNOWLEDGE,
    "signing.acknowledge_here": Action.RECORD_READ,
    "signing.amend": Action.RECORD_AMEND,
    "records.page": Action.RECORD_READ,
    "readiness.board": Action.BOARD_READ,
    "readiness.student": Action.STUDENT_READ,
    "readiness.recommend": Action.CHECK_RECOMMEND,
    "readiness.approve": Action.CHECK_APPROVE,
    "watch.school": Action.SCHOOL_READ,
    "watch.instructors": Action.SCHOOL_READ,
    "watch.progress": Action.SCHOOL_READ,
    "watch.forecast": Action.SCHOOL_READ,
    "watch.explore": Action.SCHOOL_READ,
    "watch.csv": Action.SCHOOL_READ,
    "audit.index": Action.AUDIT_READ,
    "syllabus.index": Action.SYLLABUS_READ,
    "syllabus.course": Action.SYLLABUS_READ,
    "syllabus.task": Action.SYLLABUS_READ,
    "people.index": Action.PEOPLE_READ,
    "people.add": Action.PEOPLE_CHANGE,
    "people.person": Action.PEOPLE_CHANGE,
    "people.reset": Action.PEOPLE_CHANGE,
    "people.enrol": Action.ENROL,
    "people.assign": Action.ASSIGN,
    "exchange.start": Action.IMPORT,
    "exchange.preview": Action.IMPORT,
    "exchange.commit": Action.IMPORT,
    "admin.permissions": Action.PERMISSIONS_READ,
    "admin.health": Action.HEALTH_READ,
    "plots.script": Action.HOME_READ,
}
"""The action behind each endpoint that is not public. An endpoint missing here is closed."""


def wants_json() -> bool:
    """Whether the asker is our script, which takes its answers as JSON."""
    return request.headers.get("Accept", "").startswith("application/json")


def gate() -> Response | tuple[dict[str, str], int] | None:
    """Before each request, ask who it is and whether their roles can do this at all."""
    if request.endpoint is None:
        return None
    known = _recognise() if request.endpoint != "static" else False
    if request.endpoint in PUBLIC:
        return None
    if not known:
        return _ask_to_sign_in()
    action = POLICY.get(request.endpoint)
    if action is None or not may(desk.actor(), action, EVERY_RELATION):
        abort(403)
    if g.must_change and request.endpoint not in OWN_ACCOUNT:
        return redirect(url_for("auth.secret"), 303)
    return None


def _ask_to_sign_in() -> Response | tuple[dict[str, str], int]:
    if wants_json():
        return {"error": "Signed out. Sign in again; what you typed is still here."}, 401
    target = request.full_path if request.method == "GET" else request.referrer or "/"
    wanted = target.rstrip("?") if target.startswith("/") else "/"
    return redirect(url_for("auth.sign_in", next=wanted), 303)


def _recognise() -> bool:
    """Look the session cookie up and remember who asks; keeps the session awake."""
    cookie = request.cookies.get(COOKIE, "")
    with desk.office().database.read() as session:
        school = people.school(session)
        g.zone = school.zone if school else "UTC"
        g.school = school
        found = accounts.session_of(session, cookie, desk.now()) if cookie else None
        if found is None:
            return False
        row, person = found
        g.actor, g.must_change = people.actor_of(person), person.must_change
        stale = (desk.now() - row.seen_at).total_seconds() > 60
    if stale:
        with desk.office().database.write() as session:
            accounts.keep_awake(session, cookie, desk.now())
    return True


def install(app: Flask) -> None:
    """Put the gate before every request."""
    app.before_request(gate)
