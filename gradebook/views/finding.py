"""A student, from anywhere: by parts of the name."""

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.records.store import finding
from gradebook.replies import wants_json
from gradebook.views import desk

bp = Blueprint("finding", __name__)
QUICK = 8
"""So many names the list under the field offers."""


@bp.get("/find")
def find() -> Response | str | dict[str, list[str]]:
    """Whoever is meant; straight to the page of the only one. A script gets names alone."""
    typed = request.args.get("q", "").strip()[:100]
    with desk.reading() as act:
        found = finding.find(act.session, act.actor, typed)
    if wants_json():
        return {"names": list(dict.fromkeys(one.name for one in found))[:QUICK]}
    if len(found) == 1:
        return redirect(url_for("students.page", enrolment_id=found[0].enrolment_id), 303)
    return render_template("finding/find.html", found=found, typed=typed)
