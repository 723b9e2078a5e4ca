"""Asking at every door of one school, which stands anew after whatever changed it."""

import csv
import re
import shutil
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from flask import Flask, Response, g
from sqlalchemy import select
from werkzeug.test import TestResponse

from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.people import LoginSession
from tests.cast import close_school, open_school
from tests.permissions.bodies import body_of, letter_of
from tests.permissions.cells import FIXED, KEYS, ROLES, Asked, Cell, cells
from tests.permissions.papers import Papers

GOLDEN = Path(__file__).with_name("golden.csv")
KEY = ("endpoint", "method", "relation", "state")
OUTCOMES = {401: "sign-in", 403: "403", 404: "404", 409: "409", 410: "410", 412: "409"}
"""A script that is not signed in is told 401; 412 is what it is told of a later version."""
OF_STUDENTS = ("enrolment_id", "copy_id", "foreign_id")
CONVERTER = re.compile(r"<(?:[^:<>]+:)?([^<>]+)>")
HARMLESS = ("sign-in", "403")
UNSAFE = ("POST", "PUT")


class Doors:
    """A school with papers in every state, and somebody of every role signed in."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir()
        self.school = open_school(folder)
        self.app: Flask = self.school.app
        self.papers = Papers()
        self.papers.fill(self.school)
        self.school.clock.pass_days(1)
        self.app.after_request(_gated)
        self.client = self.app.test_client(use_cookies=False)
        self.client.environ_base["HTTP_ORIGIN"] = "http://localhost"
        self.cookies: dict[str, str] = {}
        self.tokens: dict[str, str] = {}
        self.noted = False
        for name in ROLES.values():
            self._sign_in(name)
        self.papers.add_factor(self.school)
        self.known = self._known()
        self.folder, self.kept = folder, folder.with_name(f"{folder.name}-kept")
        self._give_back()
        shutil.copytree(self.folder, self.kept)

    def close(self) -> None:
        """Give every connection back."""
        close_school(self.school)

    def _sign_in(self, name: str) -> None:
        visitor = self.school.visitor(name or None)
        visitor.get("/account" if name else "/sign-in")
        jar = [visitor.client.get_cookie(f"windtee_{one}") for one in ("session", "form")]
        self.cookies[name] = "; ".join(f"{one.key}={one.value}" for one in jar if one)
        self.tokens[name] = visitor.token

    def _known(self) -> dict[str, str]:
        """Ids by name, and the version of each record as `version of ID`."""
        with self.school.database.read() as session:
            versions = session.execute(select(LessonRecord.id, LessonRecord.version))
            sessions = session.execute(select(LoginSession.person_id, LoginSession.id))
            enrolment = self.school.enrolment
            revision = session.scalars(select(LessonRecord.revision_id)).first()
            return {
                **self.school.ids,
                **self.papers.other,
                **{f"version of {row[0]}": str(row[1]) for row in versions},
                **{f"session of {row[0]}": row[1] for row in sessions},
                "enrolment of ana": enrolment,
                "enrolment of hal": self.school.stranger_enrolment,
                "revision": str(revision),
                "first entry": "1",
            }

    def _give_back(self) -> None:
        for engine in (
            self.school.database.engine,
            self.app.extensions["windtee"].database.engine,
        ):
            engine.dispose()

    def restore(self) -> None:
        """Put the school back as it was, with the checkpoints kept beside the database."""
        self._give_back()
        shutil.rmtree(self.folder)
        shutil.copytree(self.kept, self.folder)
        self.noted = False

    def _id(self, asked: Asked) -> str:
        if not asked.whose:
            return "0" * 32
        if asked.converter == "record_id":
            return self.papers.records[asked.whose, asked.cell.state]
        if asked.converter in OF_STUDENTS:
            return self.known[f"{asked.converter.removesuffix('_id')} of {asked.whose}"]
        return self.known[asked.whose]

    def address(self, asked: Asked) -> tuple[str, str]:
        """The address of a question, and the id in it."""
        about = self._id(asked) if asked.converter else ""
        found = asked.rule.rule
        key = KEYS.get(asked.cell.endpoint.partition(".")[0], "")
        stage = {"stage": "stage-2"} if asked.cell.endpoint == "readiness.recommend" else {}
        values = {**FIXED, **stage, "key": key, asked.converter: about}
        return CONVERTER.sub(lambda one: values[one[1]], found), about

    def ask(
        self,
        asked: Asked,
        method: str = "",
        looking: Callable[[], None] | None = None,
        **more: str,
    ) -> TestResponse:
        """One request; `more` are further fields of its form.

        What it changed is looked at by `looking`, then undone.
        """
        path, about = self.address(asked)
        who = ROLES[asked.cell.role]
        sent = method or asked.cell.method
        content = self._content(asked, about, more) if sent in UNSAFE else {"headers": {}}
        content["headers"]["Cookie"] = self.cookies[who]
        answer = self.client.open(path, method=sent, **content)
        if sent in UNSAFE and outcome(answer) not in HARMLESS:
            if looking is not None:
                looking()
            self.restore()
        self.noted = self.noted or answer.status_code == 403
        answer.get_data()
        answer.close()
        return answer

    def _content(self, asked: Asked, about: str, more: dict[str, str]) -> dict[str, Any]:
        """What is sent: a form, or JSON where a script asks."""
        who = ROLES[asked.cell.role]
        known = {
            **self.known,
            "version": self.known.get(f"version of {about}", "1"),
            "session": self.known.get(f"session of {self.known.get(who)}", ""),
        }
        token = {"X-CSRFToken": self.tokens[who]}
        if asked.cell.method == "PUT":
            sent, headers = letter_of(asked, known)
            return {"json": sent, "headers": headers | token}
        fields = {**more, **body_of(asked, known)}
        if asked.cell.endpoint.startswith("api."):
            return {"json": fields, "headers": token}
        return {"data": {**fields, "csrf_token": self.tokens[who]}, "headers": {}}

    def found(self, endpoints: Iterable[str] = ()) -> dict[Cell, str]:
        """What the doors answer to every question, or those about some endpoints."""
        wanted = set(endpoints)
        return {
            asked.cell: outcome(self.ask(asked))
            for asked in cells(self.app)
            if not wanted or asked.cell.endpoint in wanted
        }


def _gated(answer: Response) -> Response:
    """No answer leaves, not even an error's, before the gate has been asked."""
    assert g.get("gated"), "an answer left although the gate was never asked"
    return answer


def outcome(answer: TestResponse) -> str:
    """What an answer means: a redirect to signing in, a refusal, or `yes`."""
    if answer.status_code == 303 and answer.headers["Location"].startswith("/sign-in?"):
        return "sign-in"
    if answer.status_code in (200, 201, 302, 303, 304, 422):
        return "yes"
    return OUTCOMES.get(answer.status_code, f"error {answer.status_code}")


def read_golden() -> dict[Cell, str]:
    """The answers that were reviewed."""
    with GOLDEN.open(newline="") as file:
        return {
            Cell(*(row[name] for name in KEY), role): row[role]
            for row in csv.DictReader(file)
            for role in ROLES
            if row[role]
        }


def write_golden(found: dict[Cell, str]) -> None:
    """Write the answers as a table: a line for each question, a column for each role."""
    lines: dict[tuple[str, ...], dict[str, str]] = {}
    for cell, said in found.items():
        lines.setdefault(cell[:4], {})[cell.role] = said
    with GOLDEN.open("w", newline="") as file:
        table = csv.DictWriter(file, [*KEY, *ROLES], restval="", lineterminator="\n")
        table.writeheader()
        for key, row in sorted(lines.items(), key=_place):
            table.writerow(dict(zip(KEY, key, strict=True)) | row)


def _place(line: tuple[tuple[str, ...], dict[str, str]]) -> tuple[str, ...]:
    return line[0]
