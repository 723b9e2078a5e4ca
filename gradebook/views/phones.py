"""One's own phones that sign: listed, and ended."""

from flask import Blueprint, flash, redirect, render_template, url_for
from werkzeug.wrappers import Response

from gradebook.records.commands import phones
from gradebook.records.permissions import Action, Relation, may
from gradebook.records.store import accounts
from gradebook.views import desk
from syllabus.saying import say

bp = Blueprint("phones", __name__, url_prefix="/account/phones")


@bp.get("")
def index() -> str:
    """Every phone that signs, or signed, for this person."""
    with desk.reading() as act:
        mine = act.actor.person_id
        rows = phones.phones_of(act.session, mine)
        kinds = {row.kind for row in accounts.factors_of(act.session, mine)}
    return render_template(
        "account/phones.html",
        rows=rows,
        has_passkey="passkey" in kinds,
        may_add=may(desk.actor(), Action.PHONE_ADD, frozenset({Relation.SELF})),
    )


@bp.post("/<kid>/revoke")
def revoke(kid: str) -> Response:
    """End a phone of one's own, at once."""
    with desk.acting() as act:
        row = phones.revoke(act, kid)
    flash(
        say("{device} can sign no more. What it signed before stays good.", device=row.device)
    )
    return redirect(url_for("phones.index"), 303)
