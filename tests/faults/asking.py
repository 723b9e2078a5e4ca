"""Somebody of each role asks for everything, with words nobody foresaw."""

from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from zlib import crc32

import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from schemathesis import Case
from sqlalchemy import select
from werkzeug.test import TestResponse

from gradebook.records.tables.lessons import LessonRecord
from gradebook.security.headers import FILE_HEADERS, HEADERS
from tests.cast import SECRET, TestSchool, Visitor
from tests.faults.openapi import STATUSES, described

LEAVES = ("people.", "inviting.", "factors.", "joining.", "second.", "sessions.", "auth.")
"""Views that can sign the asker out: they come last, and signing out at the very end."""


@dataclass
class Asked:
    """How many requests were sent, and the answers that no client should get."""

    requests: int = 0
    answers: Counter[int] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)


def names_in(school: TestSchool) -> dict[str, list[str]]:
    """What a request of this school could name, by the argument of the path."""
    with school.database.read() as session:
        rows = session.execute(select(LessonRecord.id, LessonRecord.revision_id)).all()
    return {
        "record_id": [row[0] for row in rows],
        "enrolment_id": [school.enrolment, school.stranger_enrolment],
        "person_id": list(school.ids.values()),
        "student_id": list(school.ids.values()),
        "revision": [row[1] for row in rows],
        "course": ["small"],
        "task": ["hover", "run-up"],
        "stage": ["stage-1"],
        "lesson": ["s-01", "s-03", "s-check"],
        "error": ["RU-04"],
        "filename": ["css/base.css", "js/card.js"],
        "version": ["1", "2", "3"],
        "secret": [SECRET],
        "answer": ["agree", "disagree"],
        "do": ["save", "review", "flow", "rest", "undo", "clear", "done:covers"],
        "reason": ["Misread."],
    }


def asking(school: TestSchool, name: str | None, each: int, only: str = "") -> Asked:
    """Ask for every operation so many times as somebody of the cast (None: nobody).

    `only`: operations whose name begins so.
    """
    asked, visitor = Asked(), school.visitor(name)
    visitor.get("/sign-in" if name is None else "/")
    description = dict(described(school.app, names_in(school)))
    for called, operation in _ordered(schemathesis.openapi.from_dict(description), only):

        @seed(crc32(called.encode()))
        @settings(
            max_examples=each, deadline=None, database=None,
            phases=[Phase.generate], suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        @given(operation.as_strategy())
        def ask(case: Case) -> None:
            with closing(_send(visitor, case)) as answer:
                _judge(asked, case, answer)

        ask()
    return asked


def _ordered(schema, only: str) -> Iterator:
    found = [one.ok() for one in schema.get_all_operations()]
    named = [(one.definition.raw["operationId"], one) for one in found]
    wanted = [(name, one) for name, one in named if name.startswith(only)]
    yield from sorted(wanted, key=lambda pair: (pair[0].startswith(LEAVES), _late(pair[0])))


def _late(name: str) -> tuple[bool, int]:
    order = [place for place, one in enumerate(LEAVES) if name.startswith(one)]
    return name.startswith("auth.sign_out"), max(order, default=0)


def _send(visitor: Visitor, case: Case) -> TestResponse:
    path = case.formatted_path
    if case.method != "POST":
        token = {"X-CSRFToken": visitor.token}
        return visitor.client.open(path, method=case.method, headers=token)
    body = case.body if isinstance(case.body, dict) else {}
    data = {**{name: str(value) for name, value in body.items()}, "csrf_token": visitor.token}
    return visitor.client.post(path, data=data)


def _judge(asked: Asked, case: Case, answer: TestResponse) -> None:
    asked.requests += 1
    asked.answers[answer.status_code] += 1
    where = f"{case.method} {case.formatted_path} {case.body!r}: {answer.status_code}"
    if answer.status_code not in STATUSES:
        asked.faults.append(where)
    is_file = case.formatted_path.startswith("/static/") and answer.status_code in (200, 304)
    wanted = FILE_HEADERS if is_file else HEADERS
    missing = [name for name in wanted if name not in answer.headers]
    if missing:
        asked.faults.append(f"{where} without {missing}")
