"""The least that each form needs to be taken. A route not named here is sent an empty form."""

import io
import uuid
from collections.abc import Mapping
from typing import Any

from gradebook.records.card import Card
from tests.cast import SECRET
from tests.permissions.cells import ROLES as PEOPLE
from tests.permissions.cells import Asked
from tests.walks.test_main_job import FILLED

NEW = {"new_secret": "quite another sentence", "again": "quite another sentence"}
BODIES: Mapping[str, Mapping[str, str]] = {
    "auth.sign_in": {"email": "ana@school.example"},
    "auth.secret": {"secret": SECRET, **NEW},
    "joining.join": NEW,
    "filing.add": {"what": "medical", "happened_on": "2026-05-01", "passed": "y"},
    "lessons.save": {**FILLED, "do": "save"},
    "signing.sign": {"secret": SECRET},
    "signing.acknowledge": {"answer": "agree"},
    "signing.acknowledge_here": {"answer": "agree"},
    "signing.amend": {"reason": "For the tests."},
    "students.judge": {"level-preflight": "perform"},
    "tasks.close_watch": {
        "task": "run-up",
        "error": "RU-04",
        "reason": "Shown.",
        "secret": SECRET,
    },
    "signing.void": {"reason": "For the tests."},
    "students.end": {
        "how": "terminated",
        "ended_on": "2026-05-20",
        "reason": "Moved away.",
        "secret": SECRET,
    },
    "copies.certify": {"purpose": "copy", "confirmed": "y"},
    "people.add": {"name": "Jo", "email": "jo@school.example", "roles": "student"},
    "people.person": {"roles": "student", "active": "y"},
    "people.enrol": {"course": "small", "enrolled_on": "2026-05-01"},
    "roles.decide": {"answer": "confirm"},
    "readiness.recommend": {"reason": "For the tests."},
    "retention.years": {"years": "6"},
    "retention.ask": {"basis": "A rule that asks for it.", "early": "y"},
    "retention.confirm": {"name": "Ivo"},
}


def letter_of(asked: Asked, known: Mapping[str, str]) -> tuple[dict[str, Any], dict[str, str]]:
    """A draft as a phone sends it, and the headers that go with it."""
    author = asked.whose or "ben"
    card = Card(flown_on="2026-05-18", remarks="From the phone.")
    sent = {
        "enrolment": known["enrolment of hal" if author == "dov" else "enrolment of ana"],
        "lesson": "s-check" if author == "eve" else "s-01",
        "card": card.as_json(),
        "client_time": "2026-05-20T09:00:00Z",
        "signed": None,
    }
    headers = {
        "Idempotency-Key": str(uuid.uuid4()),
        "If-Match": f'"{known["version"]}"',
        "X-Age-Ms": "0",
        "X-Author": known.get(PEOPLE[asked.cell.role], ""),
    }
    return sent, headers


def body_of(asked: Asked, known: Mapping[str, str]) -> dict[str, Any]:
    """The fields of one request; `known` are ids and the version of the card."""
    endpoint, role = asked.cell.endpoint, asked.cell.role
    fields: dict[str, Any] = {"secret": SECRET, **BODIES.get(endpoint, {})}
    fields["version"] = known["version"]
    if endpoint == "lessons.open_card":
        fields["lesson"] = "s-check" if role == "check instructor" else "s-02"
    if endpoint == "readiness.approve":
        wanted = {"approval": known["approval"], "checker": known["eve"]}
        fields |= wanted | {"reason": "For the tests."}
    if endpoint in ("people.assign", "people.enrol"):
        fields["instructor"] = known["dov"]
    if endpoint == "sessions.end":
        fields["session"] = known["session"]
    if endpoint == "exchange.preview":
        fields["file"] = (io.BytesIO(b"name,email\n"), "people.csv")
    return fields
