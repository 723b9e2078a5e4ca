"""How much may be sent, and to which name. What cannot be kept is refused at its field."""

from collections.abc import Collection
from urllib.parse import urlsplit

from flask import Response, request
from werkzeug.exceptions import RequestEntityTooLarge, SecurityError

from gradebook.records.faults import InvalidError, Problem, UnknownError

MIB = 1024 * 1024
BODY = MIB
LARGER_BODY = {
    **dict.fromkeys(("exchange.preview", "foreign.preview", "verify.page"), 10 * MIB),
    **dict.fromkeys(("lessons.save", "api.deliver"), 2 * MIB),
}
"""A file to import; the card of a check, with 60 remarks as long as they may be."""

FIELDS = 200
MORE_FIELDS = {"lessons.save": 2000}
"""The largest card of the demo sends 958 with every error ticked."""

UNKEPT = "holds a character that cannot be kept. Go back and type it anew."


def check_host(hosts: Collection[str]) -> Response | None:
    """Words for whoever set the server up when it is asked for by a name it does not have.

    Werkzeug's own check takes no IPv6 address.
    """
    if not isinstance(request.routing_exception, SecurityError) and is_ours(
        request.host, hosts
    ):
        return None
    name = request.headers.get("Host", "")[:100]
    words = (
        f"Windtee does not answer to the name {name!r}. If it should, whoever runs it adds "
        "the name to WINDTEE_HOSTS and starts it again.\n"
    )
    return Response(words, 400, mimetype="text/plain")


def is_ours(host: str, hosts: Collection[str]) -> bool:
    """Whether a Host header, with its port or without, names one of `hosts`.

    One of them that starts with a dot stands for all names that end in it.
    """
    try:
        name = urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return False
    return name in hosts or any(one[:1] == "." and name.endswith(one) for one in hosts)


def set_limits() -> None:
    """Read no more of a request than its address needs; 413 beyond."""
    endpoint = request.endpoint or ""
    request.max_content_length = body = LARGER_BODY.get(endpoint, BODY)
    request.max_form_parts = most = MORE_FIELDS.get(endpoint, FIELDS)
    if request.content_length is None and len(request.get_data()) >= body:
        raise RequestEntityTooLarge  # sent in chunks: what is over the limit is cut off unsaid
    is_form = request.mimetype == "application/x-www-form-urlencoded"
    if is_form and request.get_data().count(b"&") >= most:
        raise RequestEntityTooLarge


def refuse_nul() -> None:
    """Stop the one character that PostgreSQL cannot keep, before anything looks it up."""
    if "\0" in request.path:
        raise UnknownError
    problems = [
        Problem(name.replace("\0", ""), f"{_said(name)} {UNKEPT}")
        for name, words in request.values.lists()
        if any("\0" in one for one in (name, *words))
    ]
    if problems:
        raise InvalidError(*problems)


def _said(name: str) -> str:
    return name.replace("\0", "").replace("-", " ").replace("_", " ").capitalize()
