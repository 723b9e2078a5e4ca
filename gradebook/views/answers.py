"""How problems found by the rules come back to the fields they belong to."""

import re
from collections.abc import Iterable

from wtforms import Form

from gradebook.records.faults import Problem


def show_problems(form: Form, problems: Iterable[Problem]) -> None:
    """Put each problem at its field; those of no field at the form as a whole."""
    for problem in problems:
        field = form._fields.get(problem.field)
        if field is None:
            form.form_errors.append(problem.words)
        else:
            field.errors = [*field.errors, problem.words]


def read_version(text: str) -> int | None:
    """The version a form was opened at, or None when it cannot be one."""
    return int(text) if re.fullmatch(r"[0-9]{1,9}", text) else None
