"""Signing in and out, one's own secret, paper or night."""

from urllib.parse import urlsplit

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook import demo_accounts as demo
from gradebook.records import secrets
from gradebook.records.commands import people as accounts
from gradebook.records.faults import InvalidError
from gradebook.records.store import people
from gradebook.views import access, desk
from gradebook.views.answers import show_problems
from gradebook.views.forms.accounts import SecretForm, SignInForm

bp = Blueprint("auth", __name__)
THEMES = ("auto", "paper", "night", "sunlight")
YEAR = 365 * 24 * 3600
WRONG = "E-mail address and secret do not match."
SLOW_DOWN = "Too many failed attempts. Wait five minutes."
NOBODY_HASH = "$argon2id$v=19$m=19456,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAA"


def local(target: str | None) -> str:
    """The target if it lies in this application, else the home page."""
    if not target or not target.startswith("/") or target.startswith(("//", "/\\")):
        return "/"
    return "/" if urlsplit(target).netloc else target


@bp.route("/sign-in", methods=["GET", "POST"])
def sign_in() -> Response | str | tuple[str, int]:
    """Ask who it is; open a session."""
    form = SignInForm(request.form)
    if request.method == "GET":
        return render_template(
            "auth/sign_in.html", form=form, next=request.args.get("next"), **_demo()
        )
    words = _sign_in_fault(form)
    if isinstance(words, Response):
        return words
    form.secret.errors = [words]
    page = render_template(
        "auth/sign_in.html", form=form, next=request.form.get("next"), **_demo()
    )
    return page, 422


def _sign_in_fault(form: SignInForm) -> str | Response:
    """The redirect that signs in, or why not. One wording for every cause."""
    subject = f"{form.email.data}|{request.remote_addr}".lower()
    cost = desk.office().settings.hash_cost
    with desk.office().database.read() as session:
        if accounts.throttled(session, subject, desk.now()):
            return SLOW_DOWN
        person = people.person_by_email(session, form.email.data or "")
    known = person.secret_hash if person is not None else NOBODY_HASH
    right = secrets.matches(known, form.secret.data or "", cost)
    with desk.office().database.write() as session:
        if person is None or not right or not person.active:
            accounts.note_failure(session, subject, desk.now())
            return WRONG
        cookie = accounts.start_session(session, person, desk.now())
    answer = redirect(local(request.form.get("next")), 303)
    _set_cookie(answer, cookie)
    return answer


def _set_cookie(answer: Response, cookie: str) -> None:
    secure = desk.office().settings.secure_cookies
    answer.set_cookie(access.COOKIE, cookie, httponly=True, samesite="Lax", secure=secure)


def _demo() -> dict[str, object]:
    """The printed accounts; there are some in the demo only."""
    if not desk.office().settings.demo:
        return {}
    return {"demo_secret": demo.SECRET, "demo_accounts": demo.DOORS}


@bp.post("/sign-out")
def sign_out() -> Response:
    """End this browser's session."""
    with desk.acting() as act:
        accounts.end_session(act.session, request.cookies.get(access.COOKIE, ""))
    answer = redirect(url_for("auth.sign_in"), 303)
    answer.delete_cookie(access.COOKIE)
    return answer


@bp.route("/secret", methods=["GET", "POST"])
def secret() -> Response | str | tuple[str, int]:
    """Change one's own secret."""
    form = SecretForm(request.form)
    if request.method == "GET":
        return render_template("auth/secret.html", form=form)
    cost = desk.office().settings.hash_cost
    mine = desk.actor().person_id
    try:
        desk.prove(mine, form.secret.data or "")
        with desk.acting() as act:
            accounts.change_secret(act, form.new_secret.data or "", cost)
            cookie = accounts.start_session(
                act.session, people.person(act.session, mine), act.at
            )
    except InvalidError as fault:
        show_problems(form, fault.problems)
        return render_template("auth/secret.html", form=form), 422
    flash("Your secret is changed. Other devices have been signed out.")
    answer = redirect(url_for("day.home"), 303)
    _set_cookie(answer, cookie)
    return answer


@bp.post("/theme")
def set_theme() -> Response:
    """Remember paper, night or sunlight on this device."""
    wanted = request.form.get("theme", "auto")
    answer = redirect(local(request.form.get("next")), 303)
    theme = wanted if wanted in THEMES else "auto"
    answer.set_cookie("windtee_theme", theme, max_age=YEAR, samesite="Lax")
    return answer
