"""The second person's yes or no to a role."""

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from gradebook.records.commands import roles
from gradebook.records.store import people
from gradebook.views import desk
from syllabus.saying import say

bp = Blueprint("roles", __name__)


@bp.post("/people/requests/<request_id>")
def decide(request_id: str) -> Response:
    """Confirm or decline a role that somebody else asked for."""
    confirmed = request.form.get("answer") == "confirm"
    with desk.acting() as act:
        row = roles.decide(act, request_id, confirmed=confirmed)
        name = people.person(act.session, row.person_id).name
    values = {"name": name, "role": say(row.role)}
    if confirmed:
        flash(say("{name} is {role}.", **values))
    else:
        flash(say("{name} does not become {role}.", **values))
    return redirect(url_for("people.index"), 303)
