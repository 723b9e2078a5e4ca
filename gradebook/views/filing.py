"""What is on a student's file: documents, endorsements, medicals, tests."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.records.commands import checks
from gradebook.records.faults import InvalidError, SlowDownError
from gradebook.records.permissions import Action, may
from gradebook.records.store import enrolments, gate, people, standing
from gradebook.views import desk
from gradebook.views.answers import show_fault
from gradebook.views.forms.choices import choices
from gradebook.views.forms.deciding import EventForm
from syllabus.course import Course, Event
from syllabus.saying import say

bp = Blueprint("filing", __name__)


def _wanted(course: Course) -> dict[str, Event]:
    return {
        event.code: event for stage in course.stages for event in (*stage.events, *stage.tests)
    }


def _page(enrolment_id: str, form: EventForm) -> str:
    with desk.reading() as act:
        row = enrolments.enrolment(act.session, act.actor, Action.STUDENT_READ, enrolment_id)
        state = standing.standing(act.session, row, act.today)
        names = people.names(act.session)
        relations = gate.relations_to(act.actor, row)
    wanted = _wanted(state.course)
    form.what.choices = choices((code, event.words) for code, event in wanted.items())
    return render_template(
        "students/filing.html",
        state=state,
        wanted=wanted,
        form=form,
        names=names,
        today=act.today,
        may_file=may(desk.actor(), Action.EVENT_FILE, relations),
    )


@bp.get("/students/<enrolment_id>/file")
def events(enrolment_id: str) -> str:
    """What is on file and what is still wanted."""
    return _page(enrolment_id, EventForm())


@bp.post("/students/<enrolment_id>/file")
def add(enrolment_id: str) -> Response | tuple[str, int]:
    """Put something on file."""
    form = EventForm(request.form)
    with desk.reading() as act:
        row = enrolments.enrolment(act.session, act.actor, Action.EVENT_FILE, enrolment_id)
        state = standing.standing(act.session, row, act.today)
    wanted = _wanted(state.course)
    form.what.choices = choices((code, event.words) for code, event in wanted.items())
    if form.validate() and form.happened_on.data:
        event = wanted[form.what.data]
        command = checks.FileEvent(
            enrolment_id,
            event.kind,
            event.code,
            form.happened_on.data,
            form.expires_on.data,
            form.passed.data,
            form.words.data or "",
        )
        try:
            pen = desk.prove(desk.actor().person_id, form.secret.data or "", form.shown())
            with desk.acting(pen) as act:
                checks.file_event(act, command)
        except (InvalidError, SlowDownError) as fault:
            status = show_fault(form, fault)
            return _page(enrolment_id, form), status
        else:
            flash(say("On file."))
            return redirect(url_for("filing.events", enrolment_id=enrolment_id), 303)
    return _page(enrolment_id, form), 422
