"""Windtee without a network: worker, shell and manifest, with nothing personal in them."""

import base64
import hashlib
import json
from collections.abc import Iterator

from flask import Blueprint, Response, current_app, render_template, url_for

from gradebook import assets, words
from gradebook.views import desk

bp = Blueprint("phone", __name__)
PAPER = "#f7f2e6"
LISTED = "windtee-worker"


@bp.get("/phone")
def page() -> str:
    """What this phone can do, what it holds, what waits on it; the script fills it in."""
    return render_template("phone/page.html")


@bp.get("/phone/shell")
def shell() -> Response:
    """The page that stands in when the network does not answer; the same for everybody."""
    return _public(_shell(), "text/html")


@bp.get("/sw.js")
def worker() -> Response:
    """The service worker: the list of what it keeps, then the script that keeps it."""
    listing = [(url_for("phone.shell"), _integrity(_shell().encode())), *_assets(), *_words()]
    listed = json.dumps(listing)
    version = hashlib.sha256(listed.encode()).hexdigest()[:16]
    script = assets.assets()["js/phone/worker.js"].content.decode()
    kept = f'"use strict";\nconst VERSION = "{version}";\nconst ASSETS = {listed};\n'
    return _public(kept + script, "text/javascript")


@bp.get("/manifest.webmanifest")
def manifest() -> Response:
    """What a phone needs to know to put Windtee on its home screen."""
    school = desk.school()
    name = f"Windtee, {school.name}" if school and school.name != "Windtee" else "Windtee"
    icons = [
        {
            "src": url_for("static", filename=f"img/windtee-{size}{kind}.png"),
            "sizes": f"{size}x{size}",
            "type": "image/png",
            "purpose": purpose,
        }
        for size in (192, 512)
        for kind, purpose in (("", "any"), ("-maskable", "maskable"))
    ]
    told = {
        "id": "/",
        "name": name,
        "short_name": "Windtee",
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": PAPER,
        "icons": icons,
    }
    return _public(json.dumps(told), "application/manifest+json")


def _shell() -> str:
    return render_template("phone/shell.html")


def _public(text: str, kind: str) -> Response:
    """An answer that may be kept, but is asked for anew each time."""
    answer = Response(text, mimetype=kind)
    answer.headers["Cache-Control"] = "no-cache"
    return answer


def _assets() -> Iterator[tuple[str, str]]:
    """Address and integrity of every public file the pages are made of; worked out once."""
    files = assets.assets()
    known = current_app.extensions.get(LISTED)
    if known is None or known[0] is not files:
        listing = [
            (url_for("static", filename=name), _integrity(asset.content))
            for name, asset in files.items()
            if name not in assets.PARTS
        ]
        known = current_app.extensions[LISTED] = (files, listing)
    yield from known[1]


def _words() -> Iterator[tuple[str, str]]:
    """The words of the reader's language, which English needs none of."""
    code = words.reader().code
    digest, text = words.for_scripts(code)
    if digest:
        yield (
            url_for("words.catalogue", code=code, digest=digest),
            _integrity(text.encode()),
        )


def _integrity(content: bytes) -> str:
    """As `fetch` wants it, so that a shell is whole and of one version or not kept at all."""
    return "sha256-" + base64.b64encode(hashlib.sha256(content).digest()).decode()
