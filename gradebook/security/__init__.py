"""Headers on every answer, cross-site request protection, limits on what is sent."""

from functools import partial
from secrets import token_urlsafe

from flask import Flask, Response, g, request
from flask_wtf import CSRFProtect
from markupsafe import Markup

from gradebook.records.faults import InvalidError, Problem, UnknownError
from gradebook.security.origin import refuse_foreign
from gradebook.settings import Settings

MIB = 1024 * 1024
POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "connect-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}
CACHEABLE = frozenset({"static", "plots.script"})
"""Endpoints that hold nothing of a school and say themselves how long they keep."""

csrf = CSRFProtect()


def install(app: Flask, settings: Settings) -> None:
    """Configure the app and guard it."""
    app.config.update(
        SECRET_KEY=settings.key,
        SESSION_COOKIE_NAME="windtee_form",
        SESSION_COOKIE_SAMESITE="Lax",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SECURE=settings.secure_cookies,
        WTF_CSRF_TIME_LIMIT=None,
        WTF_CSRF_SSL_STRICT=False,  # `origin` asks for more, and needs no referrer
        MAX_CONTENT_LENGTH=10 * MIB,
        MAX_FORM_MEMORY_SIZE=6 * MIB,
        MAX_FORM_PARTS=2000,
    )
    app.before_request(partial(refuse_foreign, https=settings.secure_cookies))
    csrf.init_app(app)
    app.jinja_env.globals["plot_style"] = plot_style
    app.before_request(_refuse_nul)
    app.after_request(_add_headers)


def plot_style() -> Markup:
    """An empty style element for plotly to write its rules into.

    The answer whose template asks for it allows this element by its nonce, and no other
    inline style; every other answer stays as strict as `POLICY`.
    """
    g.style_nonce = token_urlsafe(16)
    style = Markup('<style id="plotly.js-style-global" nonce="{}"></style>')
    return style.format(g.style_nonce)


def _policy() -> str:
    nonce = g.get("style_nonce")
    if nonce is None:
        return POLICY
    return POLICY.replace("style-src 'self'", f"style-src 'self' 'nonce-{nonce}'")


def _refuse_nul() -> None:
    """Stop the one character that PostgreSQL cannot keep, before anything looks it up."""
    if "\0" in request.path:
        raise UnknownError
    if any("\0" in words for words in request.values.values()):
        raise InvalidError(Problem("", "The text holds a character that cannot be kept."))


def _add_headers(answer: Response) -> Response:
    answer.headers.setdefault("Content-Security-Policy", _policy())
    for name, value in HEADERS.items():
        answer.headers.setdefault(name, value)
    if request.endpoint not in CACHEABLE:
        answer.headers["Cache-Control"] = "no-store"
    return answer
