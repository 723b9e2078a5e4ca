"""What the server says of its work: one JSON object a line, on standard error.

A line holds what we chose to say and nothing that was sent: no query, no body, no cookie, no
arguments of a message, no words of an exception, which may quote any of these. JSON escapes
line ends, so nobody can write a line of their own.
"""

import json
import logging
import re
import traceback
from datetime import UTC, datetime
from secrets import token_hex
from time import perf_counter
from types import TracebackType
from typing import Any, TextIO, cast

from flask import Flask, Response, g, request
from flask.logging import wsgi_errors_stream

ID_HEADER = "X-Request-Id"
PLAIN = re.compile(r"[A-Za-z0-9_.-]{1,64}")
HIDDEN = frozenset({"code", "invitation", "key", "secret", "token"})
"""Parts of an address that let somebody in."""

Raised = (
    tuple[type[BaseException], BaseException, TracebackType | None] | tuple[None, None, None]
)


class JsonLines(logging.Formatter):
    """A log record as one line: when, how grave, what, and the facts given with it."""

    def format(self, record: logging.LogRecord) -> str:
        """The line. A message's arguments are left out: only its own words are ours."""
        at = datetime.fromtimestamp(record.created, UTC)
        line: dict[str, Any] = {
            "at": at.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
            "level": record.levelname.lower(),
            "event": str(record.msg) if isinstance(record.msg, str) else record.name,
            **getattr(record, "facts", {}),
        }
        if record.exc_info and record.exc_info[1]:
            line["raised"] = raised(record.exc_info[1])
        return json.dumps(line)


def raised(error: BaseException) -> list[dict[str, object]]:
    """The exception and those behind it: their kinds, and where; not their words or values."""
    found: list[dict[str, object]] = []
    behind: BaseException | None = error
    while behind is not None and len(found) < 5:
        frames = traceback.extract_tb(behind.__traceback__)
        places = [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in frames]
        found.append({"kind": type(behind).__qualname__, "at": places})
        behind = behind.__cause__ or behind.__context__
    return found


def begin() -> None:
    """Give the request its number and start its time."""
    g.request_id, g.begun = token_hex(8), perf_counter()


def address() -> str:
    """The path of the request as its route has it, parts that could hold anything hidden."""
    if request.url_rule is None:
        return "(none of ours)"
    path = request.url_rule.rule
    for name, value in (request.view_args or {}).items():
        shown = PLAIN.fullmatch(str(value)) and name not in HIDDEN
        path = re.sub(rf"<(\w+:)?{name}>", str(value) if shown else "*", path)
    return path


def _facts() -> dict[str, object]:
    actor = g.get("actor")
    return {
        "request": g.get("request_id", ""),
        "method": request.method if PLAIN.fullmatch(request.method) else "*",
        "path": address(),
        "actor": actor.person_id if actor else None,
    }


def install(app: Flask, *, quiet: bool) -> None:
    """Log every answer and every fault of ours; `quiet`: only what went wrong."""
    handler = logging.StreamHandler(cast(TextIO, wsgi_errors_stream))
    handler.setFormatter(JsonLines())
    app.logger.handlers = [handler]
    app.logger.propagate = False
    app.logger.setLevel(logging.WARNING if quiet else logging.INFO)

    def tell(answer: Response) -> Response:
        if request.endpoint != "static":
            answer.headers[ID_HEADER] = g.request_id
        took = round(1000 * (perf_counter() - g.begun), 1)
        facts = {**_facts(), "status": answer.status_code, "ms": took}
        app.logger.info("answered", extra={"facts": facts})
        return answer

    def log_exception(exc_info: Raised) -> None:
        app.logger.error("failed", exc_info=exc_info, extra={"facts": _facts()})

    app.before_request(begin)
    app.after_request(tell)
    app.log_exception = log_exception  # type: ignore[method-assign] # its line quotes the path
