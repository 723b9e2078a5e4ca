"""A school with many lessons, its drafts ready to sign, made through the real commands."""

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from sqlalchemy import delete

from gradebook.records import secrets
from gradebook.records.card import Card, Entry
from gradebook.records.commands import enrolling, founding, keyring, opening, roles
from gradebook.records.commands import people as accounts
from gradebook.records.permissions import Role
from gradebook.records.store import people
from gradebook.records.tables.people import LoginAttempt
from tests.cast import MORNING, SALT, SECRET, SEED, TestSchool, open_school, wrapping
from tests.small_course import FILES

LESSONS = 25
FLOWN = MORNING.date()


def ticking() -> datetime:
    """A moment on MORNING or after it, the same clock in every process of this machine."""
    return MORNING + timedelta(seconds=time.monotonic())


@dataclass(frozen=True)
class Draft:
    """A card ready to sign: the record, the version to name, whose student it is."""

    record: str
    version: int
    enrolment: str


def many_lessons(number: int = LESSONS) -> dict[str, str]:
    """The small course with more dual lessons, so that one student has many drafts at once."""
    lesson = """
[[lesson]]
code = "m-{0:02d}"
title = "Lesson {0}"
kind = "dual"
objective = "Again."
completion = "Again."
ground_minutes = 30
flight_minutes = 60
tasks = [
  {{ task = "preflight" }},
  {{ task = "run-up" }},
  {{ task = "hover" }},
]
read = []
"""
    more = "".join(lesson.format(one) for one in range(number))
    stage = FILES["stages/1.toml"].replace("\n[[lesson]]", f"{more}\n[[lesson]]", 1)
    return {**FILES, "stages/1.toml": stage}


def filled() -> Card:
    """A card with nothing missing and every target met, so that nothing is carried over."""
    levels = tuple(Entry(task, "perform") for task in ("preflight", "run-up", "hover"))
    times = {"dual": "1.2", "ground": "0:30", "day_landings": "3"}
    return Card(FLOWN.isoformat(), "invented", "KM-H1", levels, times=times, outcome="complete")


class DrillSchool:
    """A school whose instructors (`teacher0`, `teacher1` ...) have drafts to sign."""

    def __init__(self, data: Path, url: str | None = None, teachers: int = 1) -> None:
        self.school: TestSchool = open_school(data, url, many_lessons())
        self.teachers = [f"teacher{number}" for number in range(teachers)]
        self._students = 0
        with self.school.database.write() as session:
            at, cost = self.school.clock.at, self.school.settings.hash_cost
            server = founding.server_act(session, SEED, at - timedelta(days=50))
            known = secrets.hashed(SECRET, cost)
            for name in self.teachers:
                email = f"{name}@school.example"
                wanted = accounts.AddPerson(name, email, f"C-{name}", (Role.INSTRUCTOR,))
                person = accounts.new_person(server, wanted, known)
                roles.grant(server, person, Role.INSTRUCTOR)
                self.school.ids[name] = person.id
                key = keyring.enrol_key(server, person.id, SALT, cost, wrapping())
                self.school.keys[name] = key

    def drafts(self, teacher: str, number: int) -> Sequence[Draft]:
        """So many new drafts, for new students of this instructor."""
        made: list[Draft] = []
        while len(made) < number:
            made += self._student(teacher, min(LESSONS, number - len(made)))
        return made

    def _student(self, teacher: str, number: int) -> list[Draft]:
        with self.school.database.write() as session:
            self._students += 1
            name = f"student{self._students}"
            server = founding.server_act(session, SEED, self.school.clock.at)
            wanted = accounts.AddPerson(name, f"{name}@school.example", "", (Role.STUDENT,))
            person = accounts.new_person(server, wanted)
            roles.grant(server, person, Role.STUDENT)
            began = (self.school.clock.at - timedelta(days=40)).date()
            wanted_in = enrolling.Enrol(person.id, "small", began, self.school.ids[teacher])
            enrolment = enrolling.enrol(self.school.act(session, "cleo"), wanted_in)
            act = self.school.act(session, teacher)
            return [self._draft(act, enrolment.id, f"m-{one:02d}") for one in range(number)]

    def _draft(self, act, enrolment: str, lesson: str) -> Draft:
        opened = opening.open_record(act, opening.OpenRecord(enrolment, lesson))
        card = replace(filled(), remarks=f"{lesson} of {enrolment}")
        saved = opening.save_card(act, opening.SaveCard(opened.id, opened.version, card))
        return Draft(saved.id, saved.version, enrolment)

    def forgive(self) -> None:
        """Forget attempts that a kill left counted as failed: throttles are not the drill."""
        with self.school.database.write() as session:
            session.execute(delete(LoginAttempt))

    @property
    def vkey(self) -> str:
        """The school's verifier key."""
        with self.school.database.read() as session:
            found = people.school(session)
            assert found is not None
            return found.vkey
