"""The syllabus: what is taught in what order, to what standard."""

from flask import Blueprint, render_template

from gradebook.records.faults import UnknownError
from gradebook.records.store import courses
from gradebook.views import desk
from syllabus.measures import MEASURES

bp = Blueprint("syllabus", __name__)


@bp.get("/syllabus")
def index() -> str:
    """Every published course, and its revisions."""
    with desk.reading() as act:
        latest = courses.latest_revisions(act.session)
        revisions = courses.revisions(act.session)
        found = {row.id: courses.course_of(act.session, row.id) for row in latest}
    return render_template(
        "syllabus/index.html", latest=latest, revisions=revisions, courses=found
    )


@bp.get("/syllabus/<revision>")
def course(revision: str) -> str:
    """One course at one revision: stages, lessons, checklists, requirements."""
    with desk.reading() as act:
        found = courses.course_of(act.session, revision)
    return render_template("syllabus/course.html", course=found, measures=MEASURES)


@bp.get("/syllabus/<revision>/tasks/<task>")
def task(revision: str, task: str) -> str:
    """One task: standard, criteria, elements, errors, references."""
    with desk.reading() as act:
        found = courses.course_of(act.session, revision)
    if task not in found.task_by_code:
        raise UnknownError
    return render_template("syllabus/task.html", course=found, task=found.task_by_code[task])
