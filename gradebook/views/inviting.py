"""Links to join or to a new secret, as administrators make them; ending a person's sessions."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.records.commands import inviting, sessions
from gradebook.records.store import people
from gradebook.views import desk
from syllabus.saying import say

bp = Blueprint("inviting", __name__)


@bp.post("/people/<person_id>/link")
def invite(person_id: str) -> str:
    """Make a link, shown this once."""
    clears = request.form.get("clears_factors") == "yes"
    with desk.acting() as act:
        token = inviting.invite(act, person_id, clears_factors=clears)
        row = people.person(act.session, person_id)
    address = desk.site().origin + url_for("joining.join", token=token)
    return render_template(
        "people/link.html", row=row, address=address, clears=clears, waiting=()
    )


@bp.post("/people/<person_id>/end-sessions")
def end_sessions(person_id: str) -> Response:
    """Sign a person out everywhere."""
    with desk.acting() as act:
        number = sessions.end_of(act, person_id)
    flash(
        say("Signed out: {number} of {number} sessions.", number=number)
        if number
        else say("Nowhere signed in.")
    )
    return redirect(url_for("people.person", person_id=person_id), 303)


@bp.post("/people/links/<link_id>/confirm")
def confirm(link_id: str) -> Response:
    """A second person's yes to clearing lost second factors."""
    with desk.acting() as act:
        inviting.confirm(act, link_id)
    flash(say("Confirmed. The link works now."))
    return redirect(url_for("people.index"), 303)


@bp.post("/people/links/<link_id>/withdraw")
def withdraw(link_id: str) -> Response:
    """Make a link useless."""
    with desk.acting() as act:
        inviting.withdraw(act, link_id)
    flash(say("The link is withdrawn."))
    return redirect(url_for("people.index"), 303)
