"""Somebody of each role asks for everything, with words nobody foresaw."""

from collections import Counter
from collections.abc import Hashable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from zlib import crc32

import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis.strategies import SearchStrategy
from schemathesis import Case
from sqlalchemy import select
from werkzeug.test import TestResponse

from gradebook.records.tables.lessons import LessonRecord
from gradebook.security.headers import FILE_HEADERS, HEADERS
from tests.cast import SECRET, TestSchool, Visitor
from tests.faults.openapi import STATUSES, described

LEAVES = ("people.", "inviting.", "factors.", "joining.", "second.", "sessions.", "auth.")
"""Views that can sign the asker out: they come last, and signing out at the very end."""


Names = dict[str, list[str]]


@dataclass(frozen=True, slots=True)
class Drawn:
    """Requests for every operation, and the names of the school they were drawn for."""

    names: Names
    cases: dict[str, list[Case]]

    def meant(self, names: Names) -> dict[str, str]:
        """What another school, with as many of everything, calls what is named in them."""
        pairs = (zip(old, names[kind], strict=True) for kind, old in self.names.items())
        return {old: new for found in pairs for old, new in found if old != new}


_DRAWN: dict[Hashable, Drawn] = {}
"""Drawn once a process: to draw a request takes half as long as to answer it."""


@dataclass
class Asked:
    """How many requests were sent, and the answers that no client should get."""

    requests: int = 0
    answers: Counter[int] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)


def names_in(school: TestSchool) -> Names:
    """What a request of this school could name, by the argument of the path."""
    with school.database.read() as session:
        columns = select(LessonRecord.id, LessonRecord.revision_id)
        rows = session.execute(columns.order_by(LessonRecord.created_at)).all()
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
    names = names_in(school)
    sizes = tuple((kind, len(known)) for kind, known in names.items())
    if (key := (sizes, each, only)) not in _DRAWN:
        _DRAWN[key] = _draw(school, names, each, only)
    meant = _DRAWN[key].meant(names)
    asked, visitor = Asked(), school.visitor(name)
    visitor.get("/sign-in" if name is None else "/")
    for cases in _DRAWN[key].cases.values():
        for case in cases:
            path = _named(case.formatted_path, meant)
            with closing(_send(visitor, case, path, meant)) as answer:
                _judge(asked, case, path, answer)
    return asked


def _draw(school: TestSchool, names: Names, each: int, only: str) -> Drawn:
    cases: dict[str, list[Case]] = {}
    description = dict(described(school.app, names))
    for called, operation in _ordered(schemathesis.openapi.from_dict(description), only):
        cases[called] = _cases(called, operation.as_strategy(), each)
    return Drawn(names, cases)


def _cases(called: str, strategy: SearchStrategy[Case], each: int) -> list[Case]:
    drawn: list[Case] = []

    @seed(crc32(called.encode()))
    @settings(
        max_examples=each, deadline=None, database=None,
        phases=[Phase.generate], suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(strategy)
    def draw(case: Case) -> None:
        drawn.append(case)

    draw()
    return drawn


def _named(words: str, meant: dict[str, str]) -> str:
    for old, new in meant.items():
        words = words.replace(old, new)
    return words


def _ordered(schema, only: str) -> Iterator:
    found = [one.ok() for one in schema.get_all_operations()]
    named = [(one.definition.raw["operationId"], one) for one in found]
    wanted = [(name, one) for name, one in named if name.startswith(only)]
    yield from sorted(wanted, key=lambda pair: (pair[0].startswith(LEAVES), _late(pair[0])))


def _late(name: str) -> tuple[bool, int]:
    order = [place for place, one in enumerate(LEAVES) if name.startswith(one)]
    return name.startswith("auth.sign_out"), max(order, default=0)


def _send(visitor: Visitor, case: Case, path: str, meant: dict[str, str]) -> TestResponse:
    if case.method != "POST":
        token = {"X-CSRFToken": visitor.token}
        return visitor.client.open(path, method=case.method, headers=token)
    body = case.body if isinstance(case.body, dict) else {}
    data = {name: meant.get(str(value), str(value)) for name, value in body.items()}
    return visitor.client.post(path, data={**data, "csrf_token": visitor.token})


def _judge(asked: Asked, case: Case, path: str, answer: TestResponse) -> None:
    asked.requests += 1
    asked.answers[answer.status_code] += 1
    where = f"{case.method} {path} {case.body!r}: {answer.status_code}"
    if answer.status_code not in STATUSES:
        asked.faults.append(where)
    is_file = path.startswith("/static/") and answer.status_code in (200, 304)
    wanted = FILE_HEADERS if is_file else HEADERS
    missing = [name for name in wanted if name not in answer.headers]
    if missing:
        asked.faults.append(f"{where} without {missing}")
