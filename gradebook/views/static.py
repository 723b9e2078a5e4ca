"""The files that pages are made of, kept by browsers for good.

The address holds a digest of all of them, so that another version of the program has other
addresses, and a script finds the scripts it imports in its own version.
"""

from flask import Flask, Response, abort, request

from gradebook import assets

YEAR = 31_536_000


def file(version: str, filename: str) -> Response:
    """One file, to be kept for a year under its own version; else asked for anew each time."""
    asset = assets.assets().get(filename)
    if asset is None:
        abort(404)
    packing = next((one for one in asset.packed if request.accept_encodings.quality(one)), "")
    answer = Response(asset.packed.get(packing, asset.content), mimetype=asset.kind)
    if packing:
        answer.content_encoding = packing
    if asset.packed:
        answer.vary.add("Accept-Encoding")
    answer.set_etag(f"{assets.version()}{packing}")
    if version == assets.version():
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

    app.jinja_env.globals["scripts"] = assets.scripts

    @app.url_defaults
    def _versioned(endpoint: str, values: dict[str, object]) -> None:
        if endpoint == "static":
            values.setdefault("version", assets.version())
