"""Whether the server is alive."""

from flask import Blueprint
from sqlalchemy import text

from gradebook.views import desk

bp = Blueprint("health", __name__)


@bp.get("/alive")
def alive() -> dict[str, str]:
    """`{"status": "alive"}` once the database answers."""
    with desk.office().database.read() as session:
        session.execute(text("SELECT 1"))
    return {"status": "alive"}
