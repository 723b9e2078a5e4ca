"""Whether the folders are complete and every record unaltered; who did what."""

from flask import Blueprint, render_template, request

from gradebook.ledger import notes
from gradebook.records.acts import action_words
from gradebook.records.store import checking, enrolments, lessons, people, proof, trail
from gradebook.records.store.together import together
from gradebook.views import desk

bp = Blueprint("audit", __name__)


@bp.get("/audit")
def index() -> str:
    """Unsigned and unacknowledged records, the chain checked on request, the trail."""
    page = max(1, request.args.get("page", 1, type=int))
    prove = bool(request.args.get("prove"))
    with desk.reading() as act:
        rows = enrolments.enrolments(act.session, act.actor, current=False)
        ids = [row.id for row in rows]
        open_ends = lessons.open_ends(act.session, ids)
        events = trail.trail(act.session, page)
        *excepted, counted, named = together(
            act.session, *checking.excepted(ids), trail.LENGTH, people.NAMED
        )
        length = counted[0].number
        school = desk.school()
        found = None
        if prove and school is not None:
            found = proof.prove(act.session, school.vkey, desk.outside())
        return render_template(
            "audit/index.html",
            drafts=lessons.drafts(open_ends),
            waiting=lessons.unacknowledged(open_ends),
            exceptions=checking.exceptions(*excepted),
            students={row.id: row.student.name for row in rows},
            events=events,
            action_words=action_words,
            page=page,
            pages=max(1, -(-length // trail.PAGE)),
            length=length,
            names=people.by_id(named),
            proof=found,
            key=notes.fingerprint(school.vkey) if school else "",
        )
