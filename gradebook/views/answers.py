"""How problems found by the rules come back to the fields they belong to."""

import re
from collections.abc import Iterable
from urllib.parse import urlsplit

from wtforms import Form

from gradebook.records.faults import InvalidError, Problem, RecordsError, SlowDownError


def show_problems(form: Form, problems: Iterable[Problem]) -> None:
    """Put each problem at its field; those of no field at the form as a whole."""
    for problem in problems:
        field = form._fields.get(problem.field)
        if field is None:
            form.form_errors.append(problem.words)
        else:
            field.errors = [*field.errors, problem.words]


def show_fault(form: Form, fault: RecordsError) -> int:
    """Put a fault into the form it came from; the status of the answer."""
    if isinstance(fault, InvalidError):
        show_problems(form, fault.problems)
        return 422
    form.form_errors.append(fault.words)
    return 429 if isinstance(fault, SlowDownError) else 409


def read_version(text: str) -> int | None:
    """The version a form was opened at, or None when it cannot be one."""
    return int(text) if re.fullmatch(r"[0-9]{1,9}", text) else None


def local(target: str | None) -> str:
    """The target if it lies in this application, else the home page."""
    if not target or not target.startswith("/") or target.startswith(("//", "/\\")):
        return "/"
    return "/" if urlsplit(target).netloc else target
