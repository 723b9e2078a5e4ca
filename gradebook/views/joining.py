"""The other end of a one-time link: its person sets a secret."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.records import secrets
from gradebook.records.commands import inviting, keyring, sessions, throttling
from gradebook.records.faults import InvalidError, Problem
from gradebook.records.store import accounts, people
from gradebook.views import cookies, desk
from gradebook.views.answers import show_problems
from gradebook.views.forms.accounts import JoinForm
from syllabus.saying import say

bp = Blueprint("joining", __name__)


@bp.route("/join/<token>", methods=["GET", "POST"])
def join(token: str) -> Response | str | tuple[str, int]:
    """Say whom the link is for and what it does; set the secret."""
    form = JoinForm(request.form)
    with desk.reading() as act:
        row, person = inviting.opened(act.session, token, desk.now())
        held = sorted(people.roles_of(person))
        asked = [one.role for one in accounts.requests(act.session, person.id)]
        factors = accounts.factors_of(act.session, person.id)
        short = inviting.stands_beside_factor(act.session, person, cleared=row.clears_factors)
    if request.method == "POST":
        try:
            return _join(token, form)
        except InvalidError as fault:
            show_problems(form, fault.problems)
    page = render_template(
        "account/join.html",
        form=form,
        row=row,
        person=person,
        held=held,
        asked=asked,
        factors=factors,
        least=secrets.SHORTEST if short else secrets.SHORTEST_ALONE,
    )
    return page, 422 if form.errors else 200


def _join(token: str, form: JoinForm) -> Response:
    cost, secret = desk.office().settings.hash_cost, form.new_secret.data or ""
    if secret != form.again.data:
        raise InvalidError(Problem("again", say("This is not the same as above.")))
    with desk.acting() as act:
        person = inviting.accept(act, token, secret, cost)
        with secrets.turn():
            key = keyring.make_key(act, person.id, secret, cost)
        before = request.cookies.get(cookies.session(), "")
        sessions.end_one(act.session, throttling.digest(before))
        opened = sessions.start(act, person, desk.browser(), key)
    flash(say("Your secret is set."))
    return cookies.give(redirect(url_for("day.home"), 303), opened.cookie)
