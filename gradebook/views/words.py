"""The words that scripts say, as a file that browsers and the phone may keep."""

from flask import Blueprint, Response, abort, request

from gradebook import words

bp = Blueprint("words", __name__)


@bp.get("/words/<language>-<digest>.json")
def catalogue(language: str, digest: str) -> Response:
    """What scripts say in a language; another text has another address."""
    known, text = words.for_scripts(language) if language in words.LANGUAGES else ("", "")
    if not known or digest != known:
        abort(404)
    answer = Response(text, mimetype="application/json")
    answer.set_etag(digest)
    answer.cache_control.public = True
    answer.cache_control.max_age = 31_536_000
    answer.cache_control.immutable = True
    answer.make_conditional(request)
    return answer
