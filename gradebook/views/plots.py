"""The drawing library of the explore pages, as the installed plotly brings it."""

import gzip
from functools import cache
from hashlib import sha256
from importlib.resources import files

from flask import Blueprint, Response, request

SOURCE = files("plotly") / "package_data" / "plotly.min.js"
DIGEST = sha256(SOURCE.read_bytes()).hexdigest()[:16]
"""Part of the address: another version of the library has another address."""

bp = Blueprint("plots", __name__)


@cache
def _packed() -> bytes:
    return gzip.compress(SOURCE.read_bytes(), mtime=0)


@bp.get(f"/vendor/plotly-{DIGEST}.js")
def script() -> Response:
    """The library, packed for whoever can unpack it; never asked for twice."""
    packs = request.accept_encodings.quality("gzip") > 0
    answer = Response(_packed() if packs else SOURCE.read_bytes(), mimetype="text/javascript")
    if packs:
        answer.content_encoding = "gzip"
    answer.set_etag(f"{DIGEST}-gzip" if packs else DIGEST)
    answer.vary.add("Accept-Encoding")
    answer.cache_control.public = True
    answer.cache_control.max_age = 31_536_000
    answer.cache_control.immutable = True
    answer.make_conditional(request)
    return answer
