"""People: accounts, roles, enrolments, who teaches whom."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.records import secrets
from gradebook.records.act import Act
from gradebook.records.certificates import SIGNING
from gradebook.records.commands import enrolling, roles
from gradebook.records.commands import people as commands
from gradebook.records.faults import InvalidError
from gradebook.records.permissions import Role
from gradebook.records.store import accounts, courses, people
from gradebook.views import desk
from gradebook.views.answers import show_problems
from gradebook.views.forms.accounts import (
    AssignForm,
    EnrolForm,
    PersonForm,
    RolesForm,
)
from gradebook.views.forms.choices import choices
from syllabus.saying import joined, say

bp = Blueprint("people", __name__)


@bp.get("/people")
def index() -> str:
    """Everybody, by name, and what waits for a second person."""
    with desk.reading() as act:
        rows = people.people(act.session)
        requests = accounts.requests(act.session)
        return render_template(
            "people/index.html",
            rows=rows,
            held={row.id: sorted(people.roles_of(row)) for row in rows},
            certificates={row.id: people.certificate_of(row) for row in rows},
            signing=SIGNING,
            today=act.today,
            names={row.id: row.name for row in rows},
            requests=requests,
            links=accounts.unconfirmed_links(act.session, act.at),
            mine=accounts.undecided(act.session, act.actor, act.at),
            unset=secrets.UNSET,
        )


@bp.route("/people/new", methods=["GET", "POST"])
def add() -> str | tuple[str, int]:
    """A new account, and the link to hand over."""
    form = PersonForm(request.form)
    if request.method != "POST":
        return render_template("people/add.html", form=form)
    if form.validate():
        command = commands.AddPerson(
            form.name.data or "",
            form.email.data or "",
            form.certificate.data or "",
            form.chosen_roles(),
            form.chosen_term(),
            form.certificate_until.data,
        )
        try:
            with desk.acting() as act:
                added = commands.add_person(act, command)
        except InvalidError as fault:
            show_problems(form, fault.problems)
        else:
            address = desk.site().origin + url_for("joining.join", token=added.token)
            return render_template(
                "people/link.html",
                row=added.person,
                address=address,
                clears=False,
                waiting=added.waiting,
            )
    return render_template("people/add.html", form=form), 422


@bp.route("/people/<person_id>", methods=["GET", "POST"])
def person(person_id: str) -> Response | str | tuple[str, int]:
    """One person's roles, and how they sign in."""
    with desk.reading() as act:
        row = people.person(act.session, person_id)
    held = [role.value for role in people.roles_of(row)]
    sent = request.form if request.method == "POST" else None
    form = RolesForm(
        sent,
        roles=held,
        active=row.active,
        certificate=row.certificate,
        certificate_term=row.certificate_term,
        certificate_until=row.certificate_until,
    )
    if request.method == "POST" and form.validate():
        command = roles.SetRoles(
            person_id,
            form.chosen_roles(),
            form.active.data,
            form.certificate.data or "",
            form.chosen_term(),
            form.certificate_until.data,
        )
        try:
            with desk.acting() as act:
                waiting = roles.set_roles(act, command)
        except InvalidError as fault:
            show_problems(form, fault.problems)
        else:
            more = (
                say(
                    " {roles}: waits for a second person.",
                    roles=joined(", ", map(say, waiting)),
                )
                if waiting
                else ""
            )
            flash(say("Saved.{more}", more=more))
            return redirect(url_for("people.person", person_id=person_id), 303)
    return _person_page(row.id, form), 422 if form.errors else 200


def _person_page(person_id: str, form: RolesForm) -> str:
    with desk.reading() as act:
        links = accounts.links_of(act.session, person_id)
        return render_template(
            "people/person.html",
            row=people.person(act.session, person_id),
            form=form,
            factors=accounts.factors_of(act.session, person_id),
            sessions=accounts.sessions_of(act.session, person_id),
            requests=accounts.requests(act.session, person_id),
            links=[(link, accounts.state_of(link, act.at)) for link in links[:5]],
            names=people.names(act.session),
            unset=secrets.UNSET,
        )


def _enrol_choices(act: Act, form: EnrolForm) -> None:
    teachers = people.people_with(act.session, Role.INSTRUCTOR, Role.CHIEF)
    form.course.choices = choices(
        (row.course, row.title) for row in courses.latest_revisions(act.session)
    )
    form.instructor.choices = choices(
        [("", say("choose")), *((row.id, row.name) for row in teachers)]
    )


@bp.route("/people/<person_id>/enrol", methods=["GET", "POST"])
def enrol(person_id: str) -> Response | str | tuple[str, int]:
    """Enrol a student in a course."""
    form = EnrolForm(request.form)
    with desk.reading() as act:
        row = people.person(act.session, person_id)
        _enrol_choices(act, form)
        if form.enrolled_on.data is None and request.method != "POST":
            form.enrolled_on.data = act.today
    if request.method != "POST":
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
            flash(say("{row} is enrolled.", row=row.name))
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
    if request.method != "POST":
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
            flash(say("Saved."))
            return redirect(url_for("people.assign", enrolment_id=enrolment_id), 303)
    return render_template("people/assign.html", row=row, form=form), 422
