"""The page of long work: how far it is, what came of it, and how to start it again."""

from typing import Any

from flask import Blueprint, make_response, render_template, url_for
from werkzeug.wrappers import Response

from gradebook.records.jobs import Kind, State
from gradebook.records.store import jobs
from gradebook.views import aside, desk
from gradebook.views.aside import Standing
from syllabus.saying import say

bp = Blueprint("jobs", __name__)
TITLES = {
    Kind.IMPORT: say("Importing a file"),
    Kind.PROVE: say("Proving everything"),
}
STATES = {
    State.ASKED: say("under way"),
    State.DONE: say("done"),
    State.FAILED: say("not done"),
    State.INTERRUPTED: say("interrupted"),
}


def _standing(job_id: str) -> Standing:
    with desk.reading() as act:
        return aside.standing(jobs.job(act.session, act.actor, job_id))


@bp.get("/jobs/<job_id>")
def page(job_id: str) -> str:
    """How the work stands; it can be left, and come back to from the home page."""
    earlier = None
    with desk.reading() as act:
        now = aside.standing(jobs.job(act.session, act.actor, job_id))
        if now.state is State.FAILED and now.row.kind == Kind.IMPORT:
            earlier = aside.earlier(act, now.row.wanted["subject"])
    return render_template(
        "jobs/page.html",
        now=now,
        title=TITLES[Kind(now.row.kind)],
        state=STATES[now.state],
        at=desk.now(),
        earlier=earlier,
    )


@bp.get("/jobs/<job_id>/counts")
def counts(job_id: str) -> Response:
    """The same for our script, as JSON."""
    now = _standing(job_id)
    told: dict[str, Any] = {
        "state": now.state.value,
        "words": now.count.words,
        "done": now.count.done,
        "total": now.count.total,
    }
    from_script = {**told, "page": url_for("jobs.page", job_id=job_id)}
    answer = make_response(from_script)
    answer.headers["Cache-Control"] = "no-store"
    return answer


@bp.post("/jobs/<job_id>/again")
def again(job_id: str) -> Response:
    """Start it once more."""
    return aside.again(job_id)
