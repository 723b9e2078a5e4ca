"""Small schools by the dozen: one is made, every other is a copy of its file."""

import atexit
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

from gradebook.records import secrets
from gradebook.records.act import Act
from gradebook.records.card import Card, Entry
from gradebook.records.commands import (
    answering,
    checks,
    enrolling,
    founding,
    keyring,
    opening,
    roles,
    signing,
)
from gradebook.records.commands import people as accounts
from gradebook.records.database import Database, open_engine
from gradebook.records.faults import RecordsError
from gradebook.records.pen import Pen, Signer, house_of
from gradebook.records.permissions import Actor, Role
from gradebook.records.rules import Setting
from gradebook.records.store import people
from gradebook.records.tables.lessons import LessonRecord
from syllabus.course import LessonKind
from tests.cast import MORNING, SALT, SEED, TestSchool, close_school, open_school, wrapping

IVO = (Role.INSTRUCTOR, Role.CHECK_INSTRUCTOR)
"""Teaches Ana besides Ben, Hal besides Dov, and may conduct stage checks."""
PEOPLE = ("ana", "ben", "cleo", "dov", "eve", "flo", "gus", "hal", "ivo")


class _Pattern:
    """The school that is copied: its file, who is in it, who may do what with which key."""

    def __init__(self) -> None:
        folder = Path(tempfile.mkdtemp(prefix="windtee-pattern-"))
        school = open_school(folder)
        _join(school)
        self.begun = _begin(school)
        self.check = _assign(school)
        self.begun.append(_conduct(school))
        with school.database.read() as session:
            self.actors: dict[str, Actor] = {
                name: people.actor_of(people.person(session, school.ids[name]))
                for name in PEOPLE
            }
            found = people.school(session)
            assert found is not None
            self.vkey = found.vkey
        self.ids, self.keys = school.ids, school.keys
        self.enrolments = {"ana": school.enrolment, "hal": school.stranger_enrolment}
        close_school(school)  # the last connection writes the log into the file
        self.file = (folder / "windtee.db").read_bytes()
        shutil.rmtree(folder)


def _join(school: TestSchool) -> None:
    """Let Ivo join and teach Ana and Hal."""
    with school.database.write() as session:
        at, cost = school.clock.at - timedelta(days=50), school.settings.hash_cost
        server = founding.server_act(session, SEED, at, "Europe/Lisbon")
        wanted = accounts.AddPerson("Ivo", "ivo@school.example", "C-ivo", IVO)
        person = accounts.new_person(server, wanted, secrets.UNSET)
        school.ids["ivo"] = person.id
        school.keys["ivo"] = keyring.enrol_key(server, person.id, SALT, cost, wrapping())
        for role in IVO:
            roles.grant(server, person, role)
        for enrolment in (school.enrolment, school.stranger_enrolment):
            command = enrolling.Assign(enrolment, person.id)
            enrolling.assign(school.act(session, "cleo"), command)


@dataclass(frozen=True, slots=True)
class Begun:
    """A record that every copy begins with."""

    id: str
    student: str
    lesson: str
    author: str
    state: str
    version: int
    supersedes: str | None = None


def _begin(school: TestSchool) -> list[Begun]:
    """Records in every state a life can begin from: or most lives would be too short."""
    with school.database.write() as session:
        ana, ben = school.act(session, "ana"), school.act(session, "ben")
        first = _signed(ben, school.enrolment, "s-01", "ana")
        answering.acknowledge(ana, answering.Acknowledge(first.id, True, ""))
        second = _signed(ben, school.enrolment, "s-02", "ana")
        amended = answering.amend_record(ben, answering.Amend(second.id, "Misread."))
        wanted = signing.SignRecord(amended.id, amended.version)
        signing.sign_record(ben, wanted)
        third = _signed(ben, school.enrolment, "s-01", "ana")
        answering.void_record(ben, answering.Void(third.id, "Wrong student."))
        dov = school.act(session, "dov")
        theirs = _signed(dov, school.stranger_enrolment, "s-01", "hal")
        draft = opening.open_record(ben, opening.OpenRecord(school.enrolment, "s-03"))
        return [
            replace(first, state="acknowledged"),
            replace(second, state="superseded"),
            Begun(amended.id, "ana", "s-02", "ben", "signed", amended.version, second.id),
            replace(third, state="void"),
            theirs,
            Begun(draft.id, "ana", "s-03", "ben", "draft", draft.version),
        ]


def _assign(school: TestSchool) -> str:
    """Ben recommends Ana for the stage check, Cleo assigns it to Eve; its id."""
    with school.database.write() as session:
        wanted = checks.Recommend(school.enrolment, "stage-1", "Weather.")
        row = checks.recommend(school.act(session, "ben"), wanted)
        assigned = checks.Approve(school.enrolment, row.id, school.ids["eve"], "Weather.")
        checks.approve(school.act(session, "cleo"), assigned)
        return row.id


def _conduct(school: TestSchool) -> Begun:
    """Eve fills the card of the stage check in."""
    with school.database.write() as session:
        eve = school.act(session, "eve")
        row = _filled(eve, school.enrolment, "s-check")
        return Begun(row.id, "ana", "s-check", "eve", "draft", row.version)


def _filled(act: Act, enrolment: str, lesson: str) -> LessonRecord:
    row = opening.open_record(act, opening.OpenRecord(enrolment, lesson))
    card = card_of(opening.setting_of(act.session, row, act), act.today, met=True)
    return opening.save_card(act, opening.SaveCard(row.id, row.version, card))


def _signed(act: Act, enrolment: str, lesson: str, student: str) -> Begun:
    row = _filled(act, enrolment, lesson)
    signing.sign_record(act, signing.SignRecord(row.id, row.version))
    author = "ben" if student == "ana" else "dov"
    return Begun(row.id, student, lesson, author, "signed", row.version)


def card_of(setting: Setting, today: date, *, met: bool) -> Card:
    """A finished card: every task at its target, or below it with words."""
    entries = tuple(
        Entry(asked.task, "perform" if met else "describe", "Seen.")
        for asked in setting.lesson.tasks
    )
    kind = setting.lesson.kind
    outcome = "complete"
    if kind is LessonKind.STAGE_CHECK:
        outcome = "passed" if met else "failed"
    times = {"solo" if kind is LessonKind.SOLO else "dual": "1.0"}
    day = today.isoformat()
    return Card(day, "invented", "KM-H1", entries, times=times, outcome=outcome)


@lru_cache(maxsize=1)
def pattern() -> _Pattern:
    """The school that every other one is a copy of."""
    return _Pattern()


@lru_cache(maxsize=1)
def _place() -> tuple[Path, Database]:
    """Where copies live, one after another; what the engine compiled outlives them."""
    folder = Path(tempfile.mkdtemp(prefix="windtee-world-"))
    atexit.register(shutil.rmtree, folder)
    return folder, Database(open_engine(f"sqlite:///{folder / 'windtee.db'}"))


class World:
    """One copy, the only one at its time: a school on SQLite whose clock can be set."""

    def __init__(self) -> None:
        self.folder, self.database = _place()
        (self.folder / "windtee.db").write_bytes(pattern().file)
        self.at: datetime = MORNING

    def act(self, session: Any, name: str) -> Act:
        """An act of somebody who has just typed their secret."""
        key = pattern().keys[name]
        pen = Pen(house_of(SEED), Signer(key.kid, key.seed, "secret"))
        return Act(session, pattern().actors[name], self.at, "Europe/Lisbon", pen)

    def attempt(self, name: str, do: Callable[[Act], Any]) -> Any:
        """What came of one act; the fault when it was refused."""
        try:
            with self.database.write() as session:
                return do(self.act(session, name))
        except RecordsError as fault:
            return fault

    def close(self) -> None:
        """Throw it away."""
        self.database.engine.dispose()
        for file in self.folder.iterdir():
            file.unlink()
