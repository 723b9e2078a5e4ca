"""People: accounts, roles, enrolments, who teaches whom."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.records.act import Act
from gradebook.records.commands import enrolling
from gradebook.records.commands import people as accounts
from gradebook.records.faults import InvalidError
from gradebook.records.permissions import Role
from gradebook.records.store import courses, people
from gradebook.views import desk
from gradebook.views.answers import show_problems
from gradebook.views.forms.accounts import (
    AssignForm,
    EnrolForm,
    FirstSecretForm,
    PersonForm,
    RolesForm,
)
from gradebook.views.forms.choices import choices

bp = Blueprint("people", __name__)


@bp.get("/people")
def index() -> str:
    """Everybody, by name."""
    with desk.reading() as act:
        rows = people.people(act.session)
        held = {row.id: sorted(people.roles_of(row)) for row in rows}
    return render_template("people/index.html", rows=rows, held=held)


@bp.route("/people/new", methods=["GET", "POST"])
def add() -> Response | str | tuple[str, int]:
    """A new account."""
    form = PersonForm(request.form)
    if request.method == "GET":
        return render_template("people/add.html", form=form)
    if form.validate():
        command = accounts.AddPerson(
            form.name.data or "",
            form.email.data or "",
            form.certificate.data or "",
            form.chosen_roles(),
            form.secret.data or "",
        )
        try:
            with desk.acting() as act:
                accounts.add_person(act, command, desk.office().settings.hash_cost)
        except InvalidError as fault:
            show_problems(form, fault.problems)
        else:
            flash(f"{command.name} is added and must change the secret at first sign-in.")
            return redirect(url_for("people.index"), 303)
    return render_template("people/add.html", form=form), 422


@bp.route("/people/<person_id>", methods=["GET", "POST"])
def person(person_id: str) -> Response | str | tuple[str, int]:
    """One person's roles and account."""
    with desk.reading() as act:
        row = people.person(act.session, person_id)
    roles = [role.value for role in people.roles_of(row)]
    form = RolesForm(request.form, roles=roles, active=row.active)
    status = 200
    if request.method == "POST" and form.validate():
        command = accounts.SetRoles(person_id, form.chosen_roles(), form.active.data)
        try:
            with desk.acting() as act:
                accounts.set_roles(act, command)
        except InvalidError as fault:
            show_problems(form, fault.problems)
            status = 422
        else:
            flash("Roles saved.")
            return redirect(url_for("people.person", person_id=person_id), 303)
    page = render_template("people/person.html", row=row, form=form, first=FirstSecretForm())
    return page, status


@bp.post("/people/<person_id>/reset")
def reset(person_id: str) -> Response | tuple[str, int]:
    """A new first secret; every session of the person ends."""
    form = FirstSecretForm(request.form)
    cost = desk.office().settings.hash_cost
    try:
        with desk.acting() as act:
            row = accounts.reset_secret(act, person_id, form.secret.data or "", cost)
    except InvalidError as fault:
        show_problems(form, fault.problems)
        with desk.reading() as act:
            row = people.person(act.session, person_id)
        roles = RolesForm(
            roles=[role.value for role in people.roles_of(row)], active=row.active
        )
        return render_template("people/person.html", row=row, form=roles, first=form), 422
    flash(f"{row.name} has a new first secret and is signed out everywhere.")
    return redirect(url_for("people.person", person_id=person_id), 303)


def _enrol_choices(act: Act, form: EnrolForm) -> None:
    teachers = people.people_with(act.session, Role.INSTRUCTOR, Role.CHIEF)
    form.course.choices = choices(
        (row.course, row.title) for row in courses.latest_revisions(act.session)
    )
    form.instructor.choices = choices((row.id, row.name) for row in teachers)


@bp.route("/people/<person_id>/enrol", methods=["GET", "POST"])
def enrol(person_id: str) -> Response | str | tuple[str, int]:
    """Enrol a student in a course."""
    form = EnrolForm(request.form)
    with desk.reading() as act:
        row = people.person(act.session, person_id)
        _enrol_choices(act, form)
        if form.enrolled_on.data is None and request.method == "GET":
            form.enrolled_on.data = act.today
    if request.method == "GET":
        return render_template("people/enrol.html", row=row, form=form)
    if form.validate() and form.enrolled_on.data:
        command = enrolling.Enrol(
            person_id, form.course.data, form.enrolled_on.data, form.instructor.data
        )
        try:
            with desk.acting() as act:
                enrolled = enrolling.enrol(act, command)
        except InvalidError as fault:
            show_problems(form, fault.problems)
        else:
            flash(f"{row.name} is enrolled.")
            return redirect(_after_enrolling(enrolled.id), 303)
    return render_template("people/enrol.html", row=row, form=form), 422


def _after_enrolling(enrolment_id: str) -> str:
    if Role.CHIEF in desk.actor().roles:
        return url_for("students.page", enrolment_id=enrolment_id)
    return url_for("people.index")


@bp.route("/students/<enrolment_id>/teaching", methods=["GET", "POST"])
def assign(enrolment_id: str) -> Response | str | tuple[str, int]:
    """Who teaches this student."""
    form = AssignForm(request.form)
    with desk.reading() as act:
        row = enrolling.assignable(act, enrolment_id)
        teachers = people.people_with(act.session, Role.INSTRUCTOR, Role.CHIEF)
    current = {held.person_id: held.person.name for held in row.teaching if held.until is None}
    named = current | {one.id: one.name for one in teachers}
    form.instructor.choices = choices(sorted(named.items(), key=lambda pair: pair[1]))
    if request.method == "GET":
        return render_template("people/assign.html", row=row, form=form)
    if form.validate():
        command = enrolling.Assign(
            enrolment_id, form.instructor.data, form.principal.data, form.end.data
        )
        try:
            with desk.acting() as act:
                enrolling.assign(act, command)
        except InvalidError as fault:
            show_problems(form, fault.problems)
        else:
            flash("Saved.")
            return redirect(url_for("people.assign", enrolment_id=enrolment_id), 303)
    return render_template("people/assign.html", row=row, form=form), 422
