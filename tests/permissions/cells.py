"""What is asked of the doors: every route by every method for every role, relation and state.

A new route shows up here by itself. What it may need: a line in `OBJECTS` or `FIXED` for a new
`<converter>` in its address, and one in `bodies.py` when its form wants fields.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from flask import Flask
from werkzeug.routing import Rule

from gradebook import words
from tests.permissions.papers import STATES

ROLES = {
    "nobody": "",
    "student": "ana",
    "instructor": "ben",
    "check instructor": "eve",
    "chief instructor": "cleo",
    "administrator": "flo",
    "auditor": "gus",
}
"""Who stands for each role."""

RECORDS = {
    "student": {"own": "ben", "stranger's": "dov"},
    "instructor": {"own record": "ben", "assigned": "cleo", "stranger's": "dov"},
    "check instructor": {"own record": "eve", "assigned": "ben", "stranger's": "dov"},
    "chief instructor": {"own record": "cleo", "anyone's": "ben"},
}
"""Whose records these are to each role, by author: Dov writes Hal's, all others Ana's."""
ENROLMENTS = {
    "student": {"own": "ana", "stranger's": "hal"},
    "instructor": {"assigned": "ana", "stranger's": "hal"},
    "check instructor": {"assigned": "ana", "stranger's": "hal"},
}
PEOPLE = {role: {"own": who, "anyone's": "hal"} for role, who in ROLES.items() if who}
FACTORS = {"auditor": {"own": "factor"}}
PHONES = {"instructor": {"own": "phone"}}
OBJECTS = {
    "record_id": (RECORDS, {"anyone's": "ben"}),
    "enrolment_id": (ENROLMENTS, {"anyone's": "ana"}),
    "copy_id": (ENROLMENTS, {"anyone's": "ana"}),
    "foreign_id": (ENROLMENTS, {"anyone's": "ana"}),
    "person_id": (PEOPLE, {"anyone's": "hal"}),
    "factor_id": (FACTORS, {"stranger's": "factor"}),
    "kid": (PHONES, {"stranger's": "phone"}),
    "link_id": ({}, {"anyone's": "link"}),
    "request_id": ({}, {"anyone's": "request"}),
    "erasure_id": ({}, {"anyone's": "erasure"}),
    "token": ({}, {"anyone's": "token"}),
    "revision": ({}, {"anyone's": "revision"}),
    "seq": ({}, {"anyone's": "first entry"}),
}
"""The id in an address: whose there is for which role, and for every other role."""
FIXED = {
    "stage": "stage-1",
    "task": "hover",
    "lesson": "s-02",
    "filename": "css/base.css",
    "version": "0",
    "job_id": "0" * 32,
    "code": "de",
    "digest": words.for_scripts("de")[0],
}
"""What else stands in addresses; it decides nothing."""
KEYS = {"tasks": "trend", "watch": "forecasts"}
NONE = "unknown id"


class Cell(NamedTuple):
    """One question: may this role do this to such an object in such a state?"""

    endpoint: str
    method: str
    relation: str
    state: str
    role: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A cell with its address, in which ids are still by name."""

    cell: Cell
    rule: Rule
    converter: str
    whose: str


def pairs(app: Flask) -> Iterator[tuple[Rule, str]]:
    """Every route with every method that is its own."""
    for rule in sorted(app.url_map.iter_rules(), key=lambda one: one.endpoint):
        for method in sorted((rule.methods or set()) - {"HEAD", "OPTIONS"}):
            yield rule, method


def converter_of(rule: Rule) -> str:
    """The part of the address that names the object; empty when there is none."""
    unknown = set(rule.arguments) - OBJECTS.keys() - FIXED.keys() - {"key"}
    assert not unknown, (
        f"{rule.rule}: say in tests/permissions/cells.py what <{unknown.pop()}> stands for "
        "(OBJECTS when it decides who may, else FIXED)"
    )
    return next((name for name in OBJECTS if name in rule.arguments), "")


def cells(app: Flask) -> Iterator[Asked]:
    """Every question there is."""
    for rule, method in pairs(app):
        converter = converter_of(rule)
        for role in ROLES:
            for relation, whose in _related(converter, role).items():
                about_record = converter == "record_id" and relation != NONE
                for state in STATES if about_record else ("",):
                    cell = Cell(rule.endpoint, method, relation, state, role)
                    yield Asked(cell, rule, converter, whose)


def _related(converter: str, role: str) -> dict[str, str]:
    if not converter:
        return {"": ""}
    special, general = OBJECTS[converter]
    return {**special.get(role, general), NONE: ""}
