"""The cookies that say who is there: one for the session, one for a device known before."""

from flask import current_app, request
from werkzeug.wrappers import Response

from gradebook.records.commands import sessions

YEAR = 365 * 24 * 3600
DAYS_KNOWN = 400
"""As long as browsers keep any cookie."""


def _secure() -> bool:
    return bool(current_app.config["SESSION_COOKIE_SECURE"])


def session() -> str:
    """The name of the session's cookie; over https no other host can set it."""
    return "__Host-windtee" if _secure() else "windtee_session"


def device() -> str:
    """The name of the cookie by which a device is known."""
    return "__Host-windtee-device" if _secure() else "windtee_device"


def theme() -> str:
    """The name of the cookie that remembers paper, night or sunlight; scripts read it."""
    return "__Host-windtee-theme" if _secure() else "windtee_theme"


def give_theme(answer: Response, chosen: str) -> Response:
    """Let the answer carry what was chosen."""
    answer.set_cookie(theme(), chosen, max_age=YEAR, samesite="Lax", secure=_secure())
    return answer


def give(answer: Response, cookie: str) -> Response:
    """Let the answer carry the session's cookie."""
    answer.set_cookie(session(), cookie, httponly=True, samesite="Lax", secure=_secure())
    return answer


def take(answer: Response) -> Response:
    """Let the answer take the session's cookie away."""
    answer.delete_cookie(session(), httponly=True, samesite="Lax", secure=_secure())
    return answer


def device_text() -> str:
    """The cookie of this device, made anew where there is none."""
    return request.cookies.get(device(), "") or sessions.cookie_text()


def give_device(answer: Response, text: str) -> Response:
    """Let the answer make this device known for as long as browsers keep it."""
    answer.set_cookie(
        device(),
        text,
        max_age=DAYS_KNOWN * 24 * 3600,
        httponly=True,
        samesite="Lax",
        secure=_secure(),
    )
    return answer
