"""Signing in and out, one's own secret, paper or night."""

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook import demo_accounts as demo
from gradebook.records.commands import entering, sessions, throttling
from gradebook.records.commands import people as accounts
from gradebook.records.commands.entering import SignIn
from gradebook.records.commands.keyring import Unlocked
from gradebook.records.commands.sessions import Opened
from gradebook.records.faults import InvalidError, Problem, SlowDownError
from gradebook.views import aside, cookies, desk
from gradebook.views.answers import local, show_fault
from gradebook.views.forms.accounts import SecretForm, SignInForm
from syllabus.saying import say

bp = Blueprint("auth", __name__)
THEMES = ("auto", "paper", "night", "sunlight")


@bp.route("/sign-in", methods=["GET", "POST"])
def sign_in() -> Response | str | tuple[str, int]:
    """Ask who it is; open a session, which may still wait for a second factor."""
    form = SignInForm(request.form)
    wanted = request.values.get("next")
    if request.method != "POST":
        return render_template("auth/sign_in.html", form=form, next=wanted, **_demo())
    command = SignIn(form.email.data or "", form.secret.data or "", desk.browser())
    try:
        opened = _enter(command)
    except (InvalidError, SlowDownError) as fault:
        form.secret.errors = [fault.words]
        page = render_template("auth/sign_in.html", form=form, next=wanted, **_demo())
        return page, 422 if isinstance(fault, InvalidError) else 429
    aside.sweep()
    if opened.row.waits:
        target = url_for("second.show", next=local(wanted))
        return cookies.give(redirect(target, 303), opened.cookie)
    return _known(redirect(local(wanted), 303), opened)


def _enter(command: SignIn) -> Opened:
    """The session of whoever typed this; a failure is counted and put in the trail."""
    here, cost = desk.office(), desk.office().settings.hash_cost
    with here.database.write() as session:
        guess = entering.guess_of(session, command)
        throttling.begin(session, guess, desk.now())
    try:
        with here.database.read() as session:
            person = entering.recognise(session, command, cost)
            key = entering.opened_key(session, person.id, command.secret)
    except InvalidError:
        with desk.acting() as act:
            entering.note_failure(act, command)
        raise
    with desk.acting() as act:
        throttling.succeed(act.session, guess)
        before = request.cookies.get(cookies.session(), "")
        sessions.end_one(act.session, throttling.digest(before))
        return entering.enter(act, person.id, command, key, cost)


def _known(answer: Response, opened: Opened) -> Response:
    """Hand the session over, and know this device from now on."""
    text = cookies.device_text()
    with desk.acting() as act:
        sessions.remember(act, opened.row.person_id, text)
    return cookies.give_device(cookies.give(answer, opened.cookie), text)


def _demo() -> dict[str, object]:
    """The printed accounts; there are some in the demo only."""
    if not desk.office().settings.demo:
        return {}
    return {
        "demo_secret": demo.SECRET,
        "demo_accounts": demo.DOORS,
        "demo_purposes": demo.PURPOSES,
    }


@bp.post("/sign-out")
def sign_out() -> Response:
    """End this browser's session."""
    with desk.acting() as act:
        sessions.sign_out(act, desk.login_id())
    return cookies.take(redirect(url_for("auth.sign_in"), 303))


@bp.route("/secret", methods=["GET", "POST"])
def secret() -> Response | str | tuple[str, int]:
    """Change one's own secret."""
    form = SecretForm(request.form)
    try:
        if request.method == "POST":
            return _change(form)
        status = 200
    except (InvalidError, SlowDownError) as fault:
        status = show_fault(form, fault)
    return render_template("auth/secret.html", form=form), status


def _change(form: SecretForm) -> Response:
    if form.new_secret.data != form.again.data:
        raise InvalidError(Problem("again", say("This is not the same as above.")))
    pen = desk.prove(desk.actor().person_id, form.secret.data or "", form.shown())
    opened = Unlocked(pen.own.kid, pen.own.seed) if pen.own else None
    cost, new = desk.office().settings.hash_cost, form.new_secret.data or ""
    with desk.acting() as act:
        person = accounts.change_secret(act, new, opened, cost)
        began = sessions.start(
            act, person, desk.browser(), opened, shown=bool(desk.second_at())
        )
    flash(say("Your secret is changed. Other devices have been signed out."))
    return cookies.give(redirect(url_for("day.home"), 303), began.cookie)


@bp.post("/theme")
def set_theme() -> Response:
    """Remember paper, night or sunlight on this device."""
    wanted = request.form.get("theme", "auto")
    answer = redirect(local(request.form.get("next")), 303)
    theme = wanted if wanted in THEMES else "auto"
    return cookies.give_theme(answer, theme)
