"""Where a person was: the page last looked at, and the filters last chosen.

Kept in the signed cookie of the browser, by person, so that two people who share a browser do
not meet each other's. It holds addresses alone, no names; what they lead to is asked for anew.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from flask import Response, g, redirect, request, url_for
from flask import session as browser
from werkzeug.wrappers import Response as AnyResponse

from gradebook.views import desk

MOST_PEOPLE = 4
"""So many people's places one browser keeps, the last to look around first."""
ABOUT_A_STUDENT = frozenset(
    {"students.page", "students.folder", "tasks.page", "readiness.student", "filing.events"}
    | {"records.page"}
)
PLACES, LAST, SHOW_ALL = "places", "last", "all"
Kept = Mapping[str, Mapping[str, str]]
"""What is kept of one person: the last page, and by list the filters chosen."""


@dataclass(frozen=True, slots=True)
class Place:
    """A page about one student: whose, and its address."""

    enrolment_id: str
    address: str


def note(answer: Response) -> Response:
    """Remember a page about a student that has just been shown to somebody."""
    about = (request.view_args or {}).get("enrolment_id") or g.get("about")
    seen = request.endpoint in ABOUT_A_STUDENT and request.method != "POST"
    if seen and about and answer.status_code == 200 and desk.actor().person_id:
        _keep({**_kept(), LAST: {"about": about, "address": request.path}})
    return answer


def last() -> Place | None:
    """The page about a student that this person looked at last in this browser."""
    kept = _kept().get(LAST)
    return Place(kept["about"], kept["address"]) if kept else None


def recalled(*names: str) -> AnyResponse | None:
    """Where a list without any filter in its address leads: to the filter chosen last.

    `names` are the list's filters. One that is in the address is remembered; `all` forgets.
    """
    endpoint = request.endpoint or ""
    before = _kept().get(endpoint)
    if not request.args:
        values: dict[str, Any] = dict(before or {})
        return redirect(url_for(endpoint, **values), 303) if values else None
    chosen = {name: request.args[name] for name in names if request.args.get(name)}
    others = {place: one for place, one in _kept().items() if place != endpoint}
    forgets = SHOW_ALL in request.args or not chosen
    _keep(others if forgets else {**others, endpoint: chosen})
    return None


def _kept() -> Kept:
    mine: Kept = browser.get(PLACES, {}).get(desk.actor().person_id, {})
    return mine


def _keep(wanted: Kept) -> None:
    mine = desk.actor().person_id
    if wanted == _kept():
        return
    others = [(who, one) for who, one in browser.get(PLACES, {}).items() if who != mine]
    browser[PLACES] = dict([*others[1 - MOST_PEOPLE :], (mine, wanted)])
