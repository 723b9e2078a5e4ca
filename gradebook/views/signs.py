"""What the signs of the pages mean: every component in every state, from invented values."""

from flask import Blueprint, render_template

from gradebook.charts.samples import sample_charts
from gradebook.views import desk
from gradebook.views.forms.sample import faulty_sample
from syllabus.errors import ErrorType, Severity
from syllabus.limits import Reading
from syllabus.scales import PUBLIC

bp = Blueprint("signs", __name__)

ERRORS = (
    ErrorType("A", "Selector left on one side", Severity.SAFETY_CRITICAL),
    ErrorType("B", "Rpm drifts", Severity.TECHNIQUE),
    ErrorType("C", "Drop outside its limit accepted", Severity.SAFETY_CRITICAL),
    ErrorType("D", "Checklist item left out", Severity.PROCEDURAL),
)


@bp.get("/signs")
def page() -> str:
    """The page of signs, open to everybody signed in."""
    return render_template(
        "signs/page.html",
        scale=PUBLIC["LCG-MAN"],
        scales=PUBLIC,
        errors=ERRORS,
        reading=Reading("left-drop", "Left magneto drop", "rpm", "run-up"),
        form=faulty_sample(),
        charts=sample_charts(),
        now=desk.now(),
    )
