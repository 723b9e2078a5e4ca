"""Whose records are past retention; asking for them to be erased, and a second person's yes."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.records.commands import erasing as commands
from gradebook.records.faults import InvalidError, SlowDownError
from gradebook.records.permissions import Action, may
from gradebook.records.store import erasing, people
from gradebook.views import desk
from gradebook.views.answers import show_fault, show_problems
from gradebook.views.forms.erasing import AskForm, ConfirmForm, YearsForm
from syllabus.saying import say

bp = Blueprint("retention", __name__)
Page = Response | str | tuple[str, int]


@bp.route("/retention", methods=["GET"])
def index() -> str:
    """Whose records are past retention, what was asked for, what was erased."""
    return _index(YearsForm(years=_years()))


@bp.post("/retention")
def years() -> Page:
    """How long records are kept from now on."""
    form = YearsForm(request.form)
    try:
        with desk.acting() as act:
            commands.set_years(act, form.years.data or 0)
    except InvalidError as fault:
        show_problems(form, fault.problems)
        return _index(form), 422
    flash(say("Records are kept for {years} years.", years=form.years.data))
    return redirect(url_for("retention.index"), 303)


def _years() -> int:
    school = desk.school()
    return school.retention_years if school else 0


def _index(form: YearsForm) -> str:
    with desk.reading() as act:
        kept = erasing.kept(act.session, act.zone)
        asked = erasing.requests(act.session)
        return render_template(
            "retention/index.html",
            form=form,
            years=_years(),
            past=[one for one in kept if one.is_past(_years(), act.today)],
            within=[one for one in kept if not one.is_past(_years(), act.today)],
            open=(waiting := [row for row in asked if erasing.is_open(row)]),
            waiting={row.person_id: row for row in waiting},
            done=[row for row in asked if row.done_at],
            names=people.names(act.session),
            may_ask=may(act.actor, Action.ERASURE_ASK),
            may_set=may(act.actor, Action.RETENTION_SET),
        )


@bp.route("/retention/students/<person_id>", methods=["GET", "POST"])
def ask(person_id: str) -> Page:
    """What would be erased of a student, and the legal basis for it."""
    form = AskForm(request.form)
    if request.method != "POST":
        return _ask_page(person_id, form)
    try:
        pen = desk.prove(desk.actor().person_id, form.secret.data or "", form.shown())
        with desk.acting(pen) as act:
            command = commands.Ask(person_id, form.basis.data or "", bool(form.early.data))
            row = commands.ask(act, command)
    except (InvalidError, SlowDownError) as fault:
        status = show_fault(form, fault)
        return _ask_page(person_id, form), status
    flash(say("Asked for. A second person has to confirm it."))
    return redirect(url_for("retention.decide", erasure_id=row.id), 303)


def _ask_page(person_id: str, form: AskForm) -> str:
    with desk.reading() as act:
        held = erasing.kept_of(act.session, person_id, act.zone)
        return render_template(
            "retention/ask.html",
            held=held,
            who=erasing.subject(act.session, person_id),
            through=held.through(_years()),
            past=held.is_past(_years(), act.today),
            lawful=act.today > held.lawful,
            waiting=erasing.of_person(act.session, person_id),
            form=form,
        )


@bp.get("/retention/requests/<erasure_id>")
def decide(erasure_id: str) -> str:
    """One request, and what became of it."""
    return _request_page(erasure_id, ConfirmForm())


@bp.post("/retention/requests/<erasure_id>")
def confirm(erasure_id: str) -> Page:
    """The second person confirms by typing the name, with the secret."""
    form = ConfirmForm(request.form)
    try:
        pen = desk.prove(desk.actor().person_id, form.secret.data or "", form.shown())
        with desk.acting(pen) as act:
            commands.confirm(act, erasure_id, form.name.data or "")
    except (InvalidError, SlowDownError) as fault:
        status = show_fault(form, fault)
        return _request_page(erasure_id, form), status
    flash(say("Confirmed. Whoever runs the server carries it out with windtee erase."))
    return redirect(url_for("retention.decide", erasure_id=erasure_id), 303)


def _request_page(erasure_id: str, form: ConfirmForm) -> str:
    with desk.reading() as act:
        row = erasing.request(act.session, erasure_id)
        allowed = may(act.actor, Action.ERASURE_CONFIRM)
        names = people.names(act.session)
        return render_template(
            "retention/request.html",
            row=row,
            form=form,
            student=names.get(row.person_id or "", ""),
            names=names,
            is_open=erasing.is_open(row),
            may_confirm=allowed and row.confirmed is None and commands.may_confirm(act, row),
            may_withdraw=allowed and erasing.is_open(row),
        )


@bp.post("/retention/requests/<erasure_id>/call-off")
def withdraw(erasure_id: str) -> Response:
    """Call a request off before it is carried out."""
    with desk.acting() as act:
        commands.withdraw(act, erasure_id)
    flash(say("Called off. Nothing is erased."))
    return redirect(url_for("retention.index"), 303)
