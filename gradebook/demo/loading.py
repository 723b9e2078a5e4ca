"""Writing the demo school: people, courses, and every simulated student's lessons."""

from datetime import datetime, time, timedelta
from pathlib import Path
from random import Random
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from gradebook.demo import endings, training
from gradebook.demo.scenario import Scenario, Student, read_scenario
from gradebook.demo_accounts import SECRET
from gradebook.paths import bundled
from gradebook.records import secrets
from gradebook.records.act import Act
from gradebook.records.commands import enrolling, needling
from gradebook.records.database import Database, open_engine
from gradebook.records.keeping.upgrading import migrate
from gradebook.records.permissions import Role
from gradebook.records.store import people
from gradebook.records.tables.people import Person, RoleGrant, School
from gradebook.settings import Settings
from syllabus.reading import read_folder

SEED = 20260
FIRST_FIT = 8
"""After so many students the needle is first fitted, as a school would after some seasons."""
FILES = ("windtee.db", "windtee.db-wal", "windtee.db-shm", "windtee.db-journal")


def clear(data: Path) -> None:
    """Throw the demo's database file away."""
    for name in FILES:
        (data / name).unlink(missing_ok=True)


def load(settings: Settings) -> bool:
    """Write the demo school into its database, whole or not at all.

    False when a school is there already; then nothing is touched.
    """
    migrate(settings)
    engine = open_engine(settings.database)
    try:
        with Database(engine).write() as session:
            if people.school(session) is not None:
                return False
            _write(session, settings)
    finally:
        engine.dispose()
    return True


def _write(session: Session, settings: Settings) -> None:
    scenario, now = read_scenario(), settings.now()
    began = now - timedelta(days=900)
    session.add(School(name=scenario.name, zone=scenario.zone, created_at=began))
    accounts = _accounts(session, scenario, settings, began)
    for folder in sorted((bundled("seed_data") / "courses").iterdir()):
        if folder.is_dir():
            enrolling.publish(session, read_folder(folder), began)
    for number, student in enumerate(scenario.students):
        random = Random(SEED + number)  # noqa: S311 - a simulation, not a secret
        start = _first_day(student, now, scenario.zone)
        person = accounts[student.email]
        chief = Act(session, people.actor_of(accounts[_chief(scenario)]), start, scenario.zone)
        principal = accounts[student.instructor].id
        wanted = enrolling.Enrol(person.id, student.course, chief.today, principal)
        row = enrolling.enrol(chief, wanted)
        cast = training.Cast(session, scenario, accounts, random, now)
        training.train(cast, student, row, start)
        if number + 1 == FIRST_FIT:
            needling.refit(session, began)
    endings.finish(session, scenario, accounts, now)
    needling.refit(session, now)


def _chief(scenario: Scenario) -> str:
    return next(one.email for one in scenario.staff if Role.CHIEF in one.roles)


def _first_day(student: Student, now: datetime, zone: str) -> datetime:
    """When a student began, so that the last lesson lies a few days ago."""
    days = max(4, int(student.lessons * student.gap * 1.15) + student.pause + 3)
    day = now.astimezone(ZoneInfo(zone)).date() - timedelta(days=days)
    return datetime.combine(day, time(9, 0), ZoneInfo(zone))


def _accounts(
    session: Session, scenario: Scenario, settings: Settings, began: datetime
) -> dict[str, Person]:
    """An account for everybody, by e-mail. One hash serves all: the secret is printed."""
    secret_hash = secrets.hasher(settings.hash_cost).hash(SECRET)
    posts = [(one.name, one.email, one.certificate, one.roles) for one in scenario.staff]
    posts += [(one.name, one.email, "", (Role.STUDENT,)) for one in scenario.students]
    found = {}
    for name, email, certificate, roles in posts:
        row = Person(
            name=name,
            email=email,
            certificate=certificate,
            secret_hash=secret_hash,
            created_at=began,
        )
        row.grants.extend(RoleGrant(role=role.value, granted_at=began) for role in roles)
        session.add(row)
        found[email] = row
    session.flush()
    return found
