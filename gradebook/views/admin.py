"""The permission matrix as a page: the same table the code decides by."""

from flask import Blueprint, render_template

from gradebook.records.permissions import MATRIX, Role

bp = Blueprint("admin", __name__)


@bp.get("/permissions")
def permissions() -> str:
    """Who may do what."""
    return render_template("admin/permissions.html", matrix=MATRIX, all_roles=list(Role))
