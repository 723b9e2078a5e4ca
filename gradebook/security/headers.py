"""What every answer tells the browser to refuse, whatever its status.

`Referrer-Policy` is `same-origin`, not `no-referrer`: under the latter a browser sends the
origin of our own forms as `null`, and on plain http, where it tells no relation either,
`origin` could not know them for ours. Other sites learn nothing under both.
"""

from secrets import token_urlsafe

from flask import Response, g, request
from markupsafe import Markup

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
        "object-src 'none'",
    )
)
REFUSED = (
    "accelerometer", "camera", "display-capture", "geolocation", "gyroscope",
    "magnetometer", "microphone", "midi", "payment", "serial", "usb",
)  # fmt: skip
"""What no page of ours asks a device for."""

HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": ", ".join(f"{name}=()" for name in REFUSED),
}
FILE_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; object-src 'none'; base-uri 'none'; "
    "frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Resource-Policy": "same-origin",
}
"""The same of a file that pages are made of: what else is for pages would weigh it down."""
HTTPS_ONLY = ("Strict-Transport-Security", "max-age=31536000")
"""A year, and for this name alone: what else lies under the domain is not ours to decide."""

CACHEABLE = frozenset(
    {
        "static",
        "plots.script",
        "words.catalogue",
        "phone.shell",
        "phone.worker",
        "phone.manifest",
    }
)
"""Endpoints that hold nothing of a school and say themselves how long they keep."""


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


def add_headers(answer: Response, *, https: bool) -> Response:
    """The answer with its headers; `https`: browsers shall come by https only from now on."""
    is_file = request.endpoint == "static" and answer.status_code in (200, 304)
    if not is_file:
        answer.headers.setdefault("Content-Security-Policy", _policy())
    for name, value in (FILE_HEADERS if is_file else HEADERS).items():
        answer.headers.setdefault(name, value)
    if https:
        answer.headers.set(*HTTPS_ONLY)
    # Every server says it of each answer; answers to conditional requests would say it twice.
    answer.headers.remove("Date")
    if request.endpoint not in CACHEABLE or answer.status_code not in (200, 304):
        answer.headers["Cache-Control"] = "no-store"
    return answer
