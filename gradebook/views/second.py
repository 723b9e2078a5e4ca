"""The second step: a code or a passkey, at sign-in and before factors are changed."""

from typing import Any

from flask import Blueprint, flash, g, redirect, render_template, request
from werkzeug.wrappers import Response

from gradebook.records.act import Act
from gradebook.records.commands import factors, passkeys, sessions, throttling
from gradebook.records.commands.keyring import Unlocked
from gradebook.records.commands.sessions import Opened
from gradebook.records.commands.throttling import Guess
from gradebook.records.faults import InvalidError, SlowDownError
from gradebook.records.store import accounts, people
from gradebook.views import cookies, desk
from gradebook.views.answers import local
from gradebook.views.forms.accounts import SecondForm
from syllabus.saying import say

bp = Blueprint("second", __name__)


@bp.route("/sign-in/second", methods=["GET", "POST"])
def show() -> Response | str | tuple[str, int]:
    """Ask for a second factor, or where there is none for the secret once more."""
    form, wanted = SecondForm(request.form), local(request.values.get("next"))
    with desk.reading() as act:
        kinds = {row.kind for row in accounts.factors_of(act.session, g.login.person_id)}
    status = 200
    if request.method == "POST":
        try:
            opened = _by_factor(form) if kinds else _by_secret(form)
            text = cookies.device_text()
            with desk.acting() as act:
                sessions.remember(act, g.login.person_id, text)
            answer = cookies.give(redirect(wanted, 303), opened.cookie)
            return cookies.give_device(answer, text)
        except (InvalidError, SlowDownError) as fault:
            field = form.code if kinds else form.secret
            field.errors = [fault.words]
            status = 429 if isinstance(fault, SlowDownError) else 422
    page = render_template("auth/second.html", form=form, next=wanted, kinds=kinds)
    return page, status


def _by_factor(form: SecondForm) -> Opened:
    person_id, here = g.login.person_id, desk.office()
    with here.database.write() as session:
        browser = desk.browser()
        device = sessions.knows(session, browser.device, person_id)
        guess = Guess(throttling.code_of(person_id), browser.address, device)
        throttling.begin(session, guess, desk.now())
    with desk.acting() as act:
        person = people.person(act.session, person_id)
        own = Act(act.session, people.actor_of(person), act.at, act.zone)
        kind = factors.show(own, g.login.id, person_id, form.shown(), desk.site())
        opened = sessions.raised(own, g.login.id, g.cookie, kind)
        throttling.succeed(act.session, guess)
        left = accounts.codes_left(act.session, person_id)
    if kind == "recovery code":
        flash(
            say(
                "A recovery code is used up; {left} are left. Add a new factor under Account.",
                left=left,
            )
        )
    return opened


def _by_secret(form: SecondForm) -> Opened:
    """A session anew, for somebody without a second factor who typed their secret again."""
    pen = desk.prove(g.login.person_id, form.secret.data or "")
    key = Unlocked(pen.own.kid, pen.own.seed) if pen.own else None
    with desk.acting() as act:
        person = people.person(act.session, g.login.person_id)
        sessions.end_one(act.session, g.login.id)
        return sessions.start(act, person, desk.browser(), key)


@bp.post("/sign-in/second/question")
def question() -> dict[str, Any]:
    """What a passkey of the asker's is asked."""
    with desk.acting() as act:
        mine = g.login.person_id
        return passkeys.ask_to_show(act.session, g.login.id, mine, desk.site())
