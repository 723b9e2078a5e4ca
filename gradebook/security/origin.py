"""A form is taken only from a page of ours: the browser itself says where it comes from.

Newer browsers name the relation of the sending page in `Sec-Fetch-Site`, on https and on this
machine; all of them name its origin in `Origin` on every unsafe request. Neither can be set by
a script of another site. This stands beside the token in the form, not in its place.
"""

from flask import request

from gradebook.records.faults import ForbiddenError

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
FOREIGN = (
    "This was not sent from a page of Windtee, so it was not taken. "
    "Open the page here and send it again."
)


def is_ours(relation: str | None, origin: str | None, own: str) -> bool:
    """Whether an unsafe request comes from a page at `own`, such as `https://school.example`.

    `relation` is the request's Sec-Fetch-Site, `origin` its Origin; both missing is a no.
    """
    if relation is not None:
        return relation == "same-origin"
    return origin == own


def refuse_foreign(*, https: bool) -> None:
    """ForbiddenError for an unsafe request from anywhere else. `https`: we are served so."""
    if request.method in SAFE:
        return
    own = f"{'https' if https else request.scheme}://{request.host}"
    relation, origin = request.headers.get("Sec-Fetch-Site"), request.headers.get("Origin")
    if not is_ours(relation, origin, own):
        raise ForbiddenError(FOREIGN)
