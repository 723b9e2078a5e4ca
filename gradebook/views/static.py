"""The files that pages are made of: packed once, kept by browsers for good.

The address holds a digest of all of them, so that another version of the program has other
addresses, and a script finds the scripts it imports in its own version.
"""

import mimetypes
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from hashlib import sha256

from flask import Flask, Response, abort, request

from gradebook.packing import packed, shrinks
from gradebook.paths import bundled

YEAR = 31_536_000
PAGES = "css/pages.css"
"""The sheet of every page: one file made of these, the last for print alone."""
SHEETS = ("tokens", "base", "layout", "components", "charts")


@dataclass(frozen=True, slots=True)
class Asset:
    """One file: its media type, its content, and that packed (None where nothing is gained)."""

    kind: str
    content: bytes
    packed: bytes | None


@cache
def assets() -> dict[str, Asset]:
    """Every file by its name below `static`."""
    root = bundled("static")
    files = {path.relative_to(root).as_posix(): path for path in root.rglob("*")}
    found = {name: path.read_bytes() for name, path in files.items() if path.is_file()}
    found[PAGES] = _sheet(found)
    return {name: _asset(name, found[name]) for name in sorted(found)}


def _sheet(files: Mapping[str, bytes]) -> bytes:
    screen = [files[f"css/{name}.css"] for name in SHEETS]
    return b"\n".join((*screen, b"@media print {", files["css/print.css"], b"}"))


def _asset(name: str, content: bytes) -> Asset:
    kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
    return Asset(kind, content, packed(content, 9) if shrinks(kind, content) else None)


@cache
def digest() -> str:
    """The digest of all files, as their addresses hold it."""
    every = sha256()
    for name, asset in assets().items():
        every.update(f"{name} {len(asset.content)} ".encode() + asset.content)
    return every.hexdigest()[:12]


def file(version: str, filename: str) -> Response:
    """One file, to be kept for a year under its own version; else asked for anew each time."""
    asset = assets().get(filename)
    if asset is None:
        abort(404)
    packs = asset.packed is not None and request.accept_encodings.quality("gzip") > 0
    answer = Response(asset.packed if packs else asset.content, mimetype=asset.kind)
    if packs:
        answer.content_encoding = "gzip"
    if asset.packed is not None:
        answer.vary.add("Accept-Encoding")
    answer.set_etag(f"{digest()}-gzip" if packs else digest())
    if version == digest():
        answer.cache_control.public = True
        answer.cache_control.max_age = YEAR
        answer.cache_control.immutable = True
    else:
        answer.cache_control.no_cache = True
    answer.make_conditional(request)
    return answer


def install(app: Flask) -> None:
    """Serve the files under `static`, and put their version into every address made."""
    app.add_url_rule("/static/<version>/<path:filename>", "static", file)

    @app.url_defaults
    def _versioned(endpoint: str, values: dict[str, object]) -> None:
        if endpoint == "static":
            values.setdefault("version", digest())
