"""Addresses in templates, each worked out once: a long page names hundreds, mostly the same."""

from functools import lru_cache
from typing import Any

from flask import Flask, request

MOST = 8192
"""So many are kept, the last used ones."""


def install(app: Flask) -> None:
    """Let templates have their addresses from what is kept."""

    @lru_cache(MOST, typed=True)
    def worked_out(root: str, endpoint: str, **values: Any) -> str:  # noqa: ANN401 - Flask's
        del root  # Flask puts it before the address
        return app.url_for(endpoint, **values)

    def url_for(endpoint: str, **values: Any) -> str:  # noqa: ANN401 - Flask's own
        if endpoint == "static":
            return app.url_for(endpoint, **values)  # the version in it can become another
        return worked_out(request.script_root, endpoint, **values)

    app.jinja_env.globals["url_for"] = url_for
