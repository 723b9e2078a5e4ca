"""Headers on every answer, cross-site request protection, limits on what is sent."""

import hashlib
from functools import partial

from flask import Blueprint, Flask, request
from flask.sessions import SecureCookieSessionInterface
from flask_wtf import CSRFProtect
from werkzeug.middleware.proxy_fix import ProxyFix

from gradebook.security import log
from gradebook.security.headers import add_headers, plot_style
from gradebook.security.limits import BODY, FIELDS, HOSTS, check_host, refuse_nul, set_limits
from gradebook.security.origin import refuse_foreign
from gradebook.security.packing import pack
from gradebook.security.queueing import turn_away
from gradebook.settings import Settings

csrf = CSRFProtect()
PREFIX = "__Host-"
"""Over https no other host, and no page by http, can set a cookie of such a name."""


class SignedCookie(SecureCookieSessionInterface):
    """The cookie of the form's token, signed with HMAC-SHA-256."""

    digest_method = staticmethod(hashlib.sha256)


def install(app: Flask, settings: Settings) -> None:
    """Configure the app and guard it."""
    app.config.update(
        SECRET_KEY=settings.key,
        SESSION_COOKIE_NAME=f"{PREFIX if settings.secure_cookies else ''}windtee_form",
        SESSION_COOKIE_SAMESITE="Lax",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SECURE=settings.secure_cookies,
        WTF_CSRF_TIME_LIMIT=None,
        WTF_CSRF_SSL_STRICT=False,  # `origin` asks for more, and needs no referrer
        MAX_CONTENT_LENGTH=BODY,
        MAX_FORM_PARTS=FIELDS,
    )
    app.session_interface = SignedCookie()
    app.jinja_env.globals["plot_style"] = plot_style
    log.install(app, quiet=settings.demo)
    app.config[HOSTS] = settings.hosts
    app.before_request(check_host)
    app.before_request(turn_away(settings.wait_seconds))
    app.before_request(set_limits)
    app.before_request(partial(refuse_foreign, https=settings.secure_cookies))
    csrf.init_app(app)
    app.before_request(refuse_nul)
    app.after_request(pack)
    app.after_request(partial(add_headers, https=settings.secure_cookies))
    if hops := settings.proxies:
        proxied = ProxyFix(app.wsgi_app, x_for=hops, x_proto=hops, x_host=hops)
        app.wsgi_app = proxied  # type: ignore[method-assign] # as Flask's own pages advise


def check_after_gate(app: Flask, *blueprints: Blueprint) -> None:
    """Ask for the token of these endpoints after it is known who asks.

    Whoever sends words with a session that is over is told so, and not that a token is stale:
    a phone whose browser was ended in between has lost both cookies, and still shows the card.
    """
    names = {blueprint.name for blueprint in blueprints}
    for blueprint in blueprints:
        csrf.exempt(blueprint)

    def check() -> None:
        if request.blueprint in names:
            csrf.protect()

    app.before_request(check)
