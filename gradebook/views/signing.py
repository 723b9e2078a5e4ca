"""Review and sign, acknowledge, amend."""

from dataclasses import replace

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.records import rules
from gradebook.records.act import Act
from gradebook.records.commands import answering, proving, signing
from gradebook.records.faults import InvalidError, Problem, SlowDownError, StaleError
from gradebook.records.permissions import Action
from gradebook.records.store import lessons, people
from gradebook.views import desk
from gradebook.views.answers import read_version, show_fault, show_problems
from gradebook.views.forms.deciding import AcknowledgeForm, AmendForm, SignForm, VoidForm
from gradebook.views.sheet import load, proposal, sheet_of
from syllabus.saying import say

bp = Blueprint("signing", __name__)


def _review_page(act: Act, record_id: str, form: SignForm) -> str:
    loaded = load(act, record_id, Action.RECORD_GRADE)
    sheet = sheet_of(loaded)
    problems = (
        *rules.check_card(loaded.card, loaded.setting),
        *rules.check_finished(loaded.card, loaded.setting),
        *signing.certificate_problems(loaded.record, loaded.card),
    )
    form.version.data = str(loaded.record.version)
    outcome, why = proposal(sheet)
    return render_template(
        "lessons/review.html",
        sheet=sheet,
        form=form,
        problems=problems,
        proposed=outcome,
        why=why,
    )


@bp.get("/lessons/<record_id>/review")
def review(record_id: str) -> str | Response:
    """What exactly is put a name to."""
    with desk.reading() as act:
        record = lessons.lesson_record(act.session, act.actor, Action.RECORD_READ, record_id)
        if record.state != "draft":
            return redirect(url_for("records.page", record_id=record_id), 303)
        return _review_page(act, record_id, SignForm())


@bp.post("/lessons/<record_id>/sign")
def sign(record_id: str) -> Response | tuple[str, int]:
    """Sign, with the secret typed again."""
    form = SignForm(request.form)
    version = read_version(form.version.data or "") or 0
    try:
        pen = desk.prove(desk.actor().person_id, form.secret.data or "", form.shown())
        with desk.acting(pen) as act:
            proving.check_pace(act, desk.office().settings.signatures)
            wanted = signing.SignRecord(record_id, version)
            signing.sign_record(act, wanted)
    except (InvalidError, StaleError, SlowDownError) as fault:
        status = show_fault(form, fault)
        with desk.reading() as act:
            lessons.lesson_record(act.session, act.actor, Action.RECORD_SIGN, record_id)
            return _review_page(act, record_id, form), status
    flash(
        say(
            "Signed. Hand the phone to the student, or let them acknowledge on their own. "
            "What is signed cannot be undone: amend the record to correct it."
        )
    )
    return redirect(url_for("records.page", record_id=record_id), 303)


@bp.post("/records/<record_id>/acknowledge")
def acknowledge(record_id: str) -> Response | tuple[str, int]:
    """The student, signed in, agrees or disagrees."""
    form = AcknowledgeForm(request.form)
    return _acknowledge(record_id, form, desk.actor().person_id)


@bp.route("/records/<record_id>/acknowledge-here", methods=["GET", "POST"])
def acknowledge_here(record_id: str) -> Response | str | tuple[str, int]:
    """The student answers on the instructor's phone, with the student's own secret."""
    form, action = AcknowledgeForm(request.form), Action.RECORD_HAND_OVER
    with desk.reading() as act:
        record = lessons.lesson_record(act.session, act.actor, action, record_id)
        student = record.enrolment.student_id
    if request.method != "POST":
        return _acknowledge_page(record_id, form)
    return _acknowledge(record_id, form, student)


def _acknowledge_page(record_id: str, form: AcknowledgeForm) -> str:
    with desk.reading() as act:
        record = lessons.lesson_record(act.session, act.actor, Action.RECORD_READ, record_id)
    return render_template("records/acknowledge.html", record=record, form=form)


def _acknowledge(
    record_id: str, form: AcknowledgeForm, student_id: str
) -> Response | tuple[str, int]:
    command = answering.Acknowledge(
        record_id, form.answer.data != "disagree", form.comment.data or ""
    )
    try:
        if form.answer.data not in ("agree", "disagree"):
            raise InvalidError(Problem("answer", say("Choose whether you agree.")))
        pen = desk.prove(student_id, form.secret.data or "", form.shown())
        with desk.acting(pen) as act:
            student = people.actor_of(people.person(act.session, student_id))
            answering.acknowledge(replace(act, actor=student), command)
    except (InvalidError, SlowDownError) as fault:
        status = show_fault(form, fault)
        return _acknowledge_page(record_id, form), status
    flash(
        say("Acknowledged.") if command.agrees else say("Your disagreement is on the record.")
    )
    return redirect(url_for("records.page", record_id=record_id), 303)


@bp.route("/records/<record_id>/amend", methods=["GET", "POST"])
def amend(record_id: str) -> Response | str | tuple[str, int]:
    """Say why, then open the draft that will supersede the record."""
    form = AmendForm(request.form)
    with desk.reading() as act:
        record = lessons.lesson_record(act.session, act.actor, Action.RECORD_AMEND, record_id)
    if request.method != "POST":
        return render_template("records/amend.html", record=record, form=form)
    try:
        with desk.acting() as act:
            draft = answering.amend_record(
                act, answering.Amend(record_id, form.reason.data or "")
            )
    except InvalidError as fault:
        show_problems(form, fault.problems)
        return render_template("records/amend.html", record=record, form=form), 422
    return redirect(url_for("lessons.card", record_id=draft.id), 303)


@bp.route("/records/<record_id>/void", methods=["GET", "POST"])
def void(record_id: str) -> Response | str | tuple[str, int]:
    """Declare that the record does not count, with the secret typed."""
    form = VoidForm(request.form)
    with desk.reading() as act:
        record = lessons.lesson_record(act.session, act.actor, Action.RECORD_VOID, record_id)
    if request.method != "POST":
        return render_template("records/void.html", record=record, form=form)
    try:
        pen = desk.prove(desk.actor().person_id, form.secret.data or "", form.shown())
        with desk.acting(pen) as act:
            answering.void_record(act, answering.Void(record_id, form.reason.data or ""))
    except (InvalidError, SlowDownError) as fault:
        status = show_fault(form, fault)
        return render_template("records/void.html", record=record, form=form), status
    flash(say("The record is void. It stays readable, with your reason."))
    return redirect(url_for("records.page", record_id=record_id), 303)
