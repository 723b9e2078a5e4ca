"""Whether the folders are complete and every record unaltered; who did what."""

from functools import partial
from typing import Any

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.ledger import notes
from gradebook.records.act import Act
from gradebook.records.acts import action_words
from gradebook.records.jobs import Kind, State, is_long
from gradebook.records.noted import noted
from gradebook.records.store import (
    checking,
    enrolments,
    jobs,
    ledger,
    lessons,
    people,
    proof,
    trail,
)
from gradebook.records.store.together import together
from gradebook.records.working.works import result_of
from gradebook.views import aside, desk

bp = Blueprint("audit", __name__)


@bp.get("/audit")
def index() -> str | Response:
    """Unsigned and unacknowledged records, the chain checked on request, the trail."""
    page = max(1, request.args.get("page", 1, type=int))
    with desk.reading() as act:
        rows = enrolments.enrolments(act.session, act.actor, current=False)
        ids = [row.id for row in rows]
        about = next((one for one in ids if one == request.args.get("student")), None)
        open_ends = lessons.open_ends(act.session, ids)
        events = trail.trail(act.session, page, about)
        *excepted, counted, named, asked = together(
            act.session,
            *checking.excepted(ids),
            trail.length(about),
            people.NAMED,
            jobs.lately(act.actor, act.at),
        )
        length = counted[0].number
        school = desk.school()
        return render_template(
            "audit/index.html",
            drafts=lessons.drafts(open_ends),
            waiting=lessons.unacknowledged(open_ends),
            disagreed=lessons.disagreed(open_ends),
            exceptions=checking.exceptions(*excepted),
            students={row.id: row.student.name for row in rows},
            about=about,
            events=events,
            action_words=action_words,
            noted=partial(noted, names=people.by_id(named), zone=act.zone),
            page=page,
            pages=max(1, -(-length // trail.PAGE)),
            length=length,
            names=people.by_id(named),
            proof=_proof(act),
            jobs=aside.lately(act.actor, asked),
            key=notes.fingerprint(school.vkey) if school else "",
        )


def _proof(act: Act) -> dict[str, Any] | None:
    """What was asked for: a proof done aside by its job, or one small enough to make now."""
    if named := request.args.get("proof"):
        row = jobs.job(act.session, act.actor, named)
        return row.outcome if (row.kind, row.state) == (Kind.PROVE, State.DONE) else None
    school = desk.school()
    if not request.args.get("prove") or school is None:
        return None
    return result_of(proof.prove(act.session, school.vkey, desk.outside()))


@bp.post("/audit/prove")
def prove() -> Response:
    """Prove everything: at once where the ledger is short, else aside."""
    with desk.reading() as act:
        length = ledger.size(act.session)
    if is_long("entry", length, desk.office().settings.at_once_ms):
        return aside.begin(Kind.PROVE, {"subject": "ledger"})
    return redirect(url_for("audit.index", prove=1), 303)
