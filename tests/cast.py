"""The cast of the tests and their school: who is who, what each holds, a client a person."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from gradebook.app import create_app
from gradebook.ledger.keys import derive
from gradebook.records import secrets
from gradebook.records.act import Act
from gradebook.records.commands import enrolling, founding, keyring, roles
from gradebook.records.commands import people as accounts
from gradebook.records.commands.keyring import Unlocked
from gradebook.records.database import Database, open_engine
from gradebook.records.keeping.upgrading import migrate
from gradebook.records.pen import Pen, Signer, house_of
from gradebook.records.permissions import Role
from gradebook.records.store import people
from gradebook.settings import FLOOR, Settings
from tests.moulds import COMPILED, Moulds
from tests.small_course import FILES

SECRET = "a sentence for the tests"
SEED = bytes(range(32))
SALT = b"salt of the cast"
MORNING = datetime(2026, 5, 20, 9, 0, tzinfo=UTC)
ROLES = {
    "ana": (Role.STUDENT,),
    "ben": (Role.INSTRUCTOR,),
    "cleo": (Role.CHIEF,),
    "dov": (Role.INSTRUCTOR,),
    "eve": (Role.CHECK_INSTRUCTOR,),
    "flo": (Role.ADMINISTRATOR,),
    "gus": (Role.AUDITOR,),
    "hal": (Role.STUDENT,),
}
TOKEN = re.compile(r'name="csrf_token"\s+value="([^"]+)"')


@lru_cache
def wrapping() -> bytes:
    """What wraps everybody's signing key: all of the cast share one secret and one salt."""
    return derive(SECRET, SALT, FLOOR.passes, FLOOR.memory_kib, FLOOR.lanes)


class Clock:
    """A clock that stands still until it is moved."""

    def __init__(self) -> None:
        self.at = MORNING

    def __call__(self) -> datetime:
        return self.at

    def pass_minutes(self, minutes: float) -> None:
        """Let minutes go by."""
        self.at += timedelta(minutes=minutes)

    def pass_days(self, days: int) -> None:
        """Let days go by."""
        self.at += timedelta(days=days)


@dataclass
class Visitor:
    """A browser without script, signed in as one person."""

    client: FlaskClient
    token: str = ""

    def __post_init__(self) -> None:
        self.client.environ_base["HTTP_ORIGIN"] = "http://localhost"  # as every browser does

    def get(self, path: str, status: int = 200) -> str:
        """Open a page; its text. Redirects are followed."""
        answer = self.client.get(path, follow_redirects=True)
        assert answer.status_code == status, (path, answer.status_code, answer.text[:2000])
        self._remember(answer)
        return answer.text

    def post(self, path: str, status: int = 200, **fields: Any) -> str:
        """Send a form (with the token of the last page); the text of where it leads."""
        return self.send(path, fields, status).text

    def send(
        self, path: str, fields: Mapping[str, Any], status: int = 200, **more: Any
    ) -> TestResponse:
        """Send a form whose fields may have names with hyphens."""
        data = {"csrf_token": self.token, **fields}
        answer = self.client.post(path, data=data, follow_redirects=True, **more)
        assert answer.status_code == status, (path, answer.status_code, answer.text[:3000])
        self._remember(answer)
        return answer

    def _remember(self, answer: TestResponse) -> None:
        found = TOKEN.search(answer.text)
        self.token = found[1] if found else self.token


@dataclass
class TestSchool:
    """A school on its own database, with a frozen clock."""

    __test__ = False
    app: Flask
    database: Database
    settings: Settings
    clock: Clock
    ids: dict[str, str] = field(default_factory=dict)
    enrolment: str = ""
    stranger_enrolment: str = ""
    keys: dict[str, Unlocked] = field(default_factory=dict)

    def visitor(self, name: str | None = None) -> Visitor:
        """A new browser, signed in as somebody of the cast."""
        who = Visitor(self.app.test_client())
        if name:
            who.get("/sign-in")
            who.post("/sign-in", email=f"{name}@school.example", secret=SECRET)
        return who

    def act(self, session: Any, name: str) -> Act:
        """An act of somebody of the cast, whose key is open."""
        person = people.person(session, self.ids[name])
        actor, pen = people.actor_of(person), self.pen(name)
        return Act(session, actor, self.clock.at, "Europe/Lisbon", pen)

    def pen(self, name: str) -> Pen:
        """The pen of somebody who has just typed their secret."""
        key = self.keys[name]
        return Pen(house_of(self.settings.seed), Signer(key.kid, key.seed, "secret"))


MOULDS: Moulds[TestSchool] = Moulds()


def open_school(
    data: Path,
    url: str | None = None,
    files: Mapping[str, str] = FILES,
    owner: str = "",
    *,
    second_factor: bool = False,
    seed: bytes = SEED,
) -> TestSchool:
    """A school with the small course, the cast, and Ana enrolled with Ben (Hal with Dov).

    With `second_factor` everybody but students has to have one, as in a real school.
    """
    settings = _settings(data, url, owner, second_factor=second_factor, seed=seed)

    def found() -> TestSchool:
        migrate(settings)
        first = _school(settings)
        _people(first, files)
        close_school(first)
        return first

    first = MOULDS.fill(settings.database, (seed, tuple(files.items())), found)
    school = _school(settings)
    school.ids, school.keys = dict(first.ids), dict(first.keys)
    school.enrolment, school.stranger_enrolment = first.enrolment, first.stranger_enrolment
    return school


def new_school(data: Path) -> TestSchool:
    """An installation in which nobody has founded a school yet."""
    settings = _settings(data)
    migrate(settings)
    return _school(settings)


def _settings(
    data: Path,
    url: str | None = None,
    owner: str = "",
    *,
    second_factor: bool = False,
    seed: bytes = SEED,
) -> Settings:
    return Settings(
        data=data,
        database=url or f"sqlite:///{data / 'windtee.db'}",
        key="a key for the tests",
        seed=seed,
        second_factor=second_factor,
        requests=10**9,
        hash_cost=FLOOR,
        owner=owner,
        apart=False,
    )


def _school(settings: Settings) -> TestSchool:
    clock = Clock()
    timed = replace(settings, now=clock)
    app = create_app(timed)
    app.jinja_env.bytecode_cache = COMPILED
    return TestSchool(app, Database(open_engine(timed.database)), timed, clock)


def _people(school: TestSchool, files: Mapping[str, str]) -> None:
    seed = school.settings.seed
    at, cost = school.clock.at - timedelta(days=60), school.settings.hash_cost
    with school.database.write() as session:
        founding.found(session, seed, "Test school", "Europe/Lisbon", at)
        server = founding.server_act(session, seed, at, "Europe/Lisbon")
        secret_hash = secrets.hashed(SECRET, cost)
        for name, held in ROLES.items():
            email = f"{name}@school.example"
            wanted = accounts.AddPerson(name.capitalize(), email, f"C-{name}", held)
            person = accounts.new_person(server, wanted, secret_hash)
            school.ids[name] = person.id
            school.keys[name] = keyring.enrol_key(server, person.id, SALT, cost, wrapping())
            for role in held:
                roles.grant(server, person, role)
        enrolling.publish(session, files, at)
        chief = school.act(session, "cleo")
        began = (at + timedelta(days=10)).date()
        for student, teacher in (("ana", "ben"), ("hal", "dov")):
            wanted_in = enrolling.Enrol(
                school.ids[student], "small", began, school.ids[teacher]
            )
            row = enrolling.enrol(chief, wanted_in)
            if student == "ana":
                school.enrolment = row.id
            else:
                school.stranger_enrolment = row.id


def close_school(school: TestSchool) -> None:
    """Give every connection back."""
    school.database.engine.dispose()
    school.app.extensions["windtee"].database.engine.dispose()
