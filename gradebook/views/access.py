"""The door: every endpoint has an action, or stands on the short list of public ones."""

from collections.abc import Mapping
from contextlib import suppress
from urllib.parse import urlsplit

from flask import Flask, abort, g, redirect, request, url_for
from werkzeug.wrappers import Response

from gradebook.records.commands import entering, factors, sessions, throttling
from gradebook.records.faults import BusyError
from gradebook.records.permissions import Action, Relation, may
from gradebook.records.store import accounts, people
from gradebook.replies import wants_json
from gradebook.views import cookies, desk, language
from syllabus.saying import say

PUBLIC = frozenset(
    {"static", "auth.sign_in", "auth.set_theme", "health.alive", "joining.join", "verify.page"}
    | {"words.catalogue", "phone.page", "phone.shell", "phone.worker", "phone.manifest"}
)
WAITING = frozenset({"auth.sign_out", "second.show", "second.question"})
"""All that a session which waits for its second factor can do."""
OWN_ACCOUNT = WAITING | {
    "auth.secret",
    "factors.index",
    "factors.add_code",
    "factors.add_passkey",
    "factors.question",
    "factors.remove",
    "factors.recovery",
    "sessions.index",
    "words.choose",
    "sessions.end",
    "sessions.end_others",
    "phones.index",
    "phones.revoke",
}
"""What is about nobody but the asker: open to everybody signed in, whatever their roles."""
WITHOUT_ROLE = OWN_ACCOUNT | {"day.home", "signs.page"}
EVERY_RELATION = frozenset(Relation)

POLICY: Mapping[str, Action] = {
    **dict.fromkeys(OWN_ACCOUNT, Action.ACCOUNT_KEEP),
    "day.home": Action.HOME_READ,
    "signs.page": Action.HOME_READ,
    "finding.find": Action.STUDENT_READ,
    "keys.page": Action.HOME_READ,
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
    "lessons.restore": Action.RECORD_OPEN,
    "flow.run": Action.RECORD_GRADE,
    "flow.step": Action.RECORD_GRADE,
    "signing.review": Action.RECORD_GRADE,
    "signing.sign": Action.RECORD_SIGN,
    "signing.acknowledge": Action.RECORD_ACKNOWLEDGE,
    "signing.acknowledge_here": Action.RECORD_HAND_OVER,
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
    "audit.prove": Action.AUDIT_READ,
    "jobs.page": Action.WORK_READ,
    "jobs.counts": Action.WORK_READ,
    "jobs.again": Action.WORK_READ,
    "ledger.index": Action.LEDGER_READ,
    "ledger.entry": Action.LEDGER_READ,
    "records.receipt": Action.RECORD_READ,
    "signing.void": Action.RECORD_VOID,
    "students.end": Action.END,
    "syllabus.index": Action.SYLLABUS_READ,
    "syllabus.course": Action.SYLLABUS_READ,
    "syllabus.task": Action.SYLLABUS_READ,
    "retention.index": Action.RETENTION_READ,
    "retention.years": Action.RETENTION_SET,
    "retention.ask": Action.ERASURE_ASK,
    "retention.decide": Action.RETENTION_READ,
    "retention.confirm": Action.ERASURE_CONFIRM,
    "retention.withdraw": Action.ERASURE_CONFIRM,
    "people.index": Action.PEOPLE_READ,
    "people.add": Action.PEOPLE_CHANGE,
    "people.person": Action.PEOPLE_CHANGE,
    "inviting.invite": Action.PEOPLE_CHANGE,
    "inviting.end_sessions": Action.PEOPLE_CHANGE,
    "inviting.confirm": Action.PEOPLE_CONFIRM,
    "inviting.withdraw": Action.PEOPLE_CONFIRM,
    "roles.decide": Action.PEOPLE_CONFIRM,
    "people.enrol": Action.ENROL,
    "people.assign": Action.ASSIGN,
    "exchange.start": Action.IMPORT,
    "exchange.preview": Action.IMPORT,
    "exchange.commit": Action.IMPORT,
    "copies.index": Action.COPY_READ,
    "copies.page": Action.COPY_READ,
    "copies.file": Action.COPY_READ,
    "copies.pdf": Action.COPY_READ,
    "copies.certify": Action.CERTIFY,
    "copies.request_own": Action.COPY_REQUEST,
    "foreign.page": Action.RECORD_READ,
    "foreign.start": Action.FOREIGN_TAKE,
    "foreign.preview": Action.FOREIGN_TAKE,
    "foreign.take": Action.FOREIGN_TAKE,
    "foreign.keys": Action.FOREIGN_TAKE,
    "admin.permissions": Action.PERMISSIONS_READ,
    "admin.health": Action.HEALTH_READ,
    "plots.script": Action.HOME_READ,
    "api.token": Action.HOME_READ,
    "api.witness": Action.HOME_READ,
    "api.enrol_phone": Action.PHONE_ADD,
    "api.deliver": Action.RECORD_GRADE,
    "pocket.pocket": Action.RECORD_OPEN,
}
"""The action behind each endpoint that is not public. An endpoint missing here is closed."""


def gate() -> Response | tuple[dict[str, str], int] | None:
    """Before each request, ask who it is and whether their roles can do this at all."""
    g.gated = True
    known = _recognise() if request.endpoint != "static" else False
    language.choose()
    if request.endpoint is None or request.endpoint in PUBLIC:
        return None
    if not known:
        return _ask("auth.sign_in")
    if g.login.waits:
        return None if request.endpoint in WAITING else _ask("second.show")
    g.action = action = POLICY.get(request.endpoint)
    open_to_all = request.endpoint in WITHOUT_ROLE
    if request.path.startswith("/api/"):
        _take_turn()
    if not open_to_all and (action is None or not may(desk.actor(), action, EVERY_RELATION)):
        _deny(action)
    return None if request.endpoint in OWN_ACCOUNT else _first_things_first()


def _take_turn() -> None:
    """Let a script ask so often a minute; SlowDownError beyond."""
    here = desk.office()
    subject = f"api {desk.actor().person_id} {request.remote_addr}"
    with here.database.write() as session:
        throttling.take_turn(session, subject, desk.now(), here.settings.requests)


def _ask(endpoint: str) -> Response | tuple[dict[str, str], int]:
    if wants_json():
        return {"error": say("Signed out. Sign in again; what you typed is still here.")}, 401
    asked = request.full_path if request.method != "POST" else _page_before()
    return redirect(url_for(endpoint, next=asked.rstrip("?")), 303)


def _page_before() -> str:
    """The page of ours that a form was sent from, as a path; the home page of any other."""
    before = urlsplit(request.referrer or "")
    return f"{before.path}?{before.query}" if before.netloc == request.host else "/"


def _deny(action: Action | None) -> None:
    """Leave a trace of what was refused, then 403."""
    with desk.acting() as act:
        noted = action or Action.HOME_READ
        entering.note_seldom(act, noted, desk.about_one(), denied=request.endpoint)
    abort(403)


def _first_things_first() -> Response | tuple[dict[str, str], int] | None:
    """Lead somebody to what comes first: a secret or a second factor of their own."""
    if g.must_change:
        return _ask("auth.secret") if wants_json() else redirect(url_for("auth.secret"), 303)
    mandatory = desk.office().settings.second_factor and factors.needed(desk.actor())
    if not mandatory or g.login.second_at is not None:
        return None
    with desk.reading() as act:
        has_one = accounts.has_factor(act.session, act.actor.person_id)
    return _ask("second.show" if has_one else "factors.index")


def _recognise() -> bool:
    """Look the session cookie up and remember who asks; keeps the session awake."""
    cookie = request.cookies.get(cookies.session(), "")
    with desk.office().database.read() as session:
        found = sessions.alive(session, cookie, desk.now()) if cookie else None
        school = found.school if found else people.school(session)
        g.zone = school.zone if school else "UTC"
        g.school = school
        if found is None:
            return False
        g.login, g.cookie, g.person = found.row, cookie, found.person
        g.must_change = found.person.must_change
        if not g.login.waits:
            g.actor = found.actor
        stale = (desk.now() - g.login.seen_at).total_seconds() > 60
    if stale:
        _keep_awake()
    return True


def _keep_awake() -> None:
    """Note that the session is in use; while somebody else writes, the next page will."""
    with suppress(BusyError), desk.office().database.write(waits=False) as session:
        sessions.keep_awake(session, g.login.id, desk.now())


def install(app: Flask) -> None:
    """Put the gate before every request."""
    app.before_request(gate)
