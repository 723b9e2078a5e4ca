"""Pages of whoever runs the installation: the permission matrix, and whether it is sound."""

from flask import Blueprint, current_app, render_template

from gradebook.records.acts import action_words
from gradebook.records.inspection import look_over
from gradebook.records.lifecycle import POSSIBLE
from gradebook.records.permissions import MATRIX, Role
from gradebook.records.soundness.judging import described, findings
from gradebook.records.values import State
from gradebook.views import desk

bp = Blueprint("admin", __name__)


@bp.get("/permissions")
def permissions() -> str:
    """Who may do what: the same table the code decides by."""
    states = {
        action: [state.value for state in State if state in possible]
        for action, possible in POSSIBLE.items()
    }
    return render_template(
        "admin/permissions.html",
        matrix=MATRIX,
        all_roles=list(Role),
        states=states,
        action_words=action_words,
    )


@bp.get("/installation")
def health() -> str:
    """What is unsafe about this installation and what to do, and what was looked at."""
    with desk.reading() as act:
        facts = look_over(act.session, desk.office().settings, debug=current_app.debug)
    return render_template(
        "admin/health.html", findings=findings(facts), looked_at=described(facts)
    )
