"""The keys of the keyboard, page by page: also for whoever has no script to ask for them."""

from dataclasses import dataclass

from flask import Blueprint, render_template

from syllabus.saying import say

bp = Blueprint("keys", __name__)


@dataclass(frozen=True, slots=True)
class Sheet:
    """Keys that hold where something is on the page (`where`, in CSS), and what they do."""

    title: str
    where: str
    keys: tuple[tuple[str, str], ...]


SHEETS = (
    Sheet(
        say("On every page"),
        "body",
        (
            ("?", say("These keys")),
            ("/", say("Find a student")),
            ("Esc", say("Close what is open: the menu, these keys")),
            ("Tab", say("To the next field, link or button")),
        ),
    ),
    Sheet(
        say("On the grading card"),
        "form[data-card]",
        (
            ("1-9", say("The grade, counted from the left, in the task you are in")),
            ("← →", say("The grade beside it")),
            ("↑ ↓", say("The task before and after")),
            ("n", say("The next task without a grade")),
            (say("Space"), say("Mark the error you are on, or take the mark away")),
        ),
    ),
)


@bp.get("/keys")
def page() -> str:
    """Every key there is."""
    return render_template("keys/page.html", sheets=SHEETS)
