"""Where one is signed in, and ending that."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.records.commands import sessions
from gradebook.records.store import accounts
from gradebook.views import desk
from syllabus.saying import say

bp = Blueprint("sessions", __name__, url_prefix="/account/sessions")


@bp.get("")
def index() -> str:
    """Every browser in which this person is signed in."""
    with desk.reading() as act:
        rows = accounts.sessions_of(act.session, act.actor.person_id)
    return render_template("account/sessions.html", rows=rows, this=desk.login_id())


def _prove_first() -> Response:
    """Ask anew who it is; whoever found a browser open ends nobody else's session."""
    flash(say("Show once more that it is you, then end it."))
    return redirect(url_for("second.show", next=url_for("sessions.index")), 303)


@bp.post("/end")
def end() -> Response:
    """End one of one's own sessions."""
    if not desk.is_fresh():
        return _prove_first()
    with desk.acting() as act:
        sessions.end(act, request.form.get("session", ""))
    flash(say("Signed out there."))
    return redirect(url_for("sessions.index"), 303)


@bp.post("/end-others")
def end_others() -> Response:
    """End every session of one's own but this."""
    if not desk.is_fresh():
        return _prove_first()
    with desk.acting() as act:
        sessions.end_others(act, desk.login_id())
    flash(say("Signed out everywhere else."))
    return redirect(url_for("sessions.index"), 303)
