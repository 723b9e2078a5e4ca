"""One's own account: second factors added and removed, recovery codes made."""

from typing import Any
from urllib.parse import urlsplit

import segno
from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook import formats, words
from gradebook.records import onetime
from gradebook.records.commands import factors, passkeys, sessions
from gradebook.records.faults import InvalidError, Problem, SlowDownError
from gradebook.records.store import accounts, people
from gradebook.settings import LOOPBACK
from gradebook.views import cookies, desk
from gradebook.views.answers import show_problems
from gradebook.views.forms.accounts import CodeForm, PasskeyForm, RemoveForm
from syllabus.saying import say

bp = Blueprint("factors", __name__, url_prefix="/account")
Answer = Response | str | tuple[str, int]


def _mandatory() -> bool:
    return desk.office().settings.second_factor and factors.needed(desk.actor())


def _stale() -> Response | None:
    """The way to prove oneself anew, unless that was done in the last minutes."""
    if desk.is_fresh():
        return None
    back = request.path if request.method != "POST" else url_for("factors.index")
    return redirect(url_for("second.show", next=back), 303)


@bp.get("")
def index() -> str:
    """How one signs in: secret, second factors, recovery codes."""
    with desk.reading() as act:
        mine = act.actor.person_id
        return render_template(
            "account/index.html",
            rows=accounts.factors_of(act.session, mine),
            left=accounts.codes_left(act.session, mine),
            sessions=accounts.sessions_of(act.session, mine),
            mandatory=_mandatory(),
        )


@bp.route("/factors/code", methods=["GET", "POST"])
def add_code() -> Answer:
    """Add a code generator: its picture and secret, then a code to show that it works."""
    if stale := _stale():
        return stale
    form = CodeForm(request.form)
    if request.method == "POST":
        try:
            with desk.acting() as act:
                sealed, label = form.sealed.data or "", form.label.data or ""
                codes = factors.add_generator(
                    act, sealed, form.code.data or "", label, desk.site()
                )
            return _added(codes, "code")
        except InvalidError as fault:
            show_problems(form, fault.problems)
    generator = factors.offered(desk.actor(), form.sealed.data or "", desk.site())
    if generator is None:
        generator, form.sealed.data = factors.offer(desk.actor(), desk.site())
    with desk.reading() as act:
        email = people.person(act.session, act.actor.person_id).email
    address = onetime.address_of(generator, email, desk.site().school)
    picture = segno.make(address, error="m").svg_data_uri(scale=5, light="#fff")
    typed = " ".join(generator[at : at + 4] for at in range(0, len(generator), 4))
    page = render_template("account/add_code.html", form=form, picture=picture, words=typed)
    return page, 422 if form.errors else 200


@bp.route("/factors/passkey", methods=["GET", "POST"])
def add_passkey() -> Answer:
    """Add a passkey, which the script asks the browser for."""
    if stale := _stale():
        return stale
    called = str(words.spoken(formats.browser(desk.browser().words)))
    form = PasskeyForm(request.form, label=called)
    if request.method == "POST":
        try:
            with desk.acting() as act:
                answer, label = form.passkey.data or "", form.label.data or ""
                codes = factors.add_passkey(act, g.login.id, answer, label, desk.site())
            return _added(codes, "passkey")
        except InvalidError as fault:
            show_problems(form, [Problem("label", problem.words) for problem in fault.problems])
    page = render_template(
        "account/add_passkey.html",
        form=form,
        taken=desk.site().takes_passkeys,
        by_name=_by_name(),
    )
    return page, 422 if form.errors else 200


def _by_name() -> str:
    """The page by the name every machine has for itself, where it was asked by number."""
    asked = urlsplit(request.url)
    if asked.hostname not in LOOPBACK:
        return ""
    port = f":{asked.port}" if asked.port else ""
    return asked._replace(netloc=f"localhost{port}").geturl()


@bp.post("/factors/passkey/question")
def question() -> dict[str, Any] | tuple[dict[str, str], int]:
    """What the browser needs to make a passkey."""
    if _stale():
        return {"error": say("Too long ago: reload this page.")}, 409
    with desk.acting() as act:
        email = people.person(act.session, act.actor.person_id).email
        return passkeys.ask_to_join(act, g.login.id, email, desk.site())


def _added(codes: list[str], kind: str) -> Response:
    """Renew the session, for it has shown this factor; show recovery codes if there are any."""
    with desk.acting() as act:
        opened = sessions.raised(act, g.login.id, g.cookie, kind)
    if codes:
        page = render_template("account/codes.html", codes=codes)
        return cookies.give(Response(page, mimetype="text/html"), opened.cookie)
    flash(say("The second factor is added."))
    return cookies.give(redirect(url_for("factors.index"), 303), opened.cookie)


@bp.post("/recovery-codes")
def recovery() -> Answer:
    """Make new recovery codes; they are shown this once."""
    if stale := _stale():
        return stale
    with desk.acting() as act:
        if not accounts.has_factor(act.session, act.actor.person_id):
            flash(say("Add a second factor first: recovery codes stand in for it."), "error")
            return redirect(url_for("factors.index"), 303)
        codes = factors.recovery_codes(act)
    return render_template("account/codes.html", codes=codes)


@bp.route("/factors/<factor_id>/remove", methods=["GET", "POST"])
def remove(factor_id: str) -> Answer:
    """Remove a factor, with the secret typed again."""
    if stale := _stale():
        return stale
    form = RemoveForm(request.form)
    with desk.reading() as act:
        row = factors.factor(act, factor_id)
        last = len(accounts.factors_of(act.session, row.person_id)) == 1
    status = 200
    if request.method == "POST":
        try:
            desk.check_secret(form.secret.data or "")
            with desk.acting() as act:
                factors.remove(
                    act, factor_id, mandatory=_mandatory(), secret=form.secret.data or ""
                )
            flash(say("{label} is removed.", label=row.label))
            return redirect(url_for("factors.index"), 303)
        except (InvalidError, SlowDownError) as fault:
            form.secret.errors = [fault.words]
            status = 422 if isinstance(fault, InvalidError) else 429
    return render_template("account/remove.html", row=row, last=last, form=form), status
