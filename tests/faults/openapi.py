"""An OpenAPI description of every route, made from the routes and the forms themselves."""

import re
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from flask import Flask
from werkzeug.routing import Rule
from wtforms import Form, SelectField
from wtforms.fields.core import UnboundField

STATUSES = (
    *(200, 201, 302, 303, 304, 308),
    *(400, 401, 403, 404, 405, 409, 410, 412, 413, 415, 422, 429),
)
"""Every answer a client has to reckon with; none of them is the server's own fault."""
ARGUMENT = re.compile(r"<(?:\w+(?:\([^)]*\))?:)?(\w+)>")
UNTOLD = frozenset({"HEAD", "OPTIONS"})
WORDS = {"type": "string", "maxLength": 60}
FORM = "application/x-www-form-urlencoded"
SHARED = ("do", "lesson", "stage", "version", "answer", "next", "page", "part")
"""Fields that views read without a form."""
STRANGE = ("9" * 32, "\u202e\u0430' OR 1=1 --<b>", "=1+1")


def operations(app: Flask) -> Iterator[tuple[Rule, str]]:
    """Every route with each of its methods."""
    for rule in app.url_map.iter_rules():
        for method in sorted((rule.methods or set()) - UNTOLD):
            yield rule, method


def forms_of(app: Flask, endpoint: str) -> list[type[Form]]:
    """The forms that the module of a view knows."""
    module = sys.modules[app.view_functions[endpoint].__module__]
    known = [one for one in vars(module).values() if isinstance(one, type)]
    return [one for one in known if issubclass(one, Form) and one is not Form]


def _fields(forms: Iterable[type[Form]]) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    for form in forms:
        for name in dir(form):
            held = getattr(form, name)
            if isinstance(held, UnboundField):
                fields[name] = _field(held)
    return fields


def _field(held: UnboundField) -> dict[str, Any]:
    choices = held.kwargs.get("choices") if issubclass(held.field_class, SelectField) else None
    if not choices or callable(choices):
        return WORDS
    return {"enum": [*(_value(one) for one in choices), *STRANGE]}


def _value(choice: Any) -> str:
    return str(choice[0] if isinstance(choice, tuple) else getattr(choice, "value", choice))


def _named(known: Sequence[str]) -> dict[str, Any]:
    """One of the school's own names, or something that is none."""
    return {"enum": [*known, *STRANGE]}


def described(app: Flask, names: Mapping[str, Sequence[str]]) -> Mapping[str, Any]:
    """The description; `names` are offered wherever a path has an argument called so."""
    paths: dict[str, dict[str, Any]] = {}
    every = _named(sorted({one for known in names.values() for one in known}))
    for rule, method in operations(app):
        said: dict[str, Any] = {
            "operationId": f"{rule.endpoint}:{method}",
            "parameters": [
                {"name": name, "in": "path", "required": True, "schema": _named(known)}
                for name, known in sorted((one, names.get(one, ())) for one in rule.arguments)
            ],
            "responses": {str(one): {"description": "An answer."} for one in STATUSES},
        }
        if method == "POST":
            fields = {**dict.fromkeys(SHARED, every), **_fields(forms_of(app, rule.endpoint))}
            fields |= {one: _named(names[one]) for one in fields if one in names}
            body = {"type": "object", "properties": fields, "additionalProperties": False}
            said["requestBody"] = {"required": True, "content": {FORM: {"schema": body}}}
        paths.setdefault(ARGUMENT.sub(r"{\1}", rule.rule), {})[method.lower()] = said
    return {"openapi": "3.1.0", "info": {"title": "Windtee", "version": "1"}, "paths": paths}
