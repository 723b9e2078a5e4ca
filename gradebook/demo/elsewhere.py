"""A student's history from another school: a second school, in memory, certifies it."""

from dataclasses import replace
from datetime import timedelta
from random import Random

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.demo import casting, training
from gradebook.demo.scenario import read_scenario
from gradebook.demo.training import Cast
from gradebook.ledger import keys
from gradebook.paths import bundled
from gradebook.records import schema
from gradebook.records.commands import certifying, enrolling, founding, taking
from gradebook.records.copying.papers import Purpose
from gradebook.records.database import Database, open_engine
from gradebook.records.store import copies
from gradebook.records.tables.training import Enrolment
from gradebook.settings import Settings
from syllabus.reading import read_folder

TAUGHT = 400
"""So many days ago the other school began to teach."""


def take_in(cast: Cast, settings: Settings) -> None:
    """The chief takes in what the other school certified, its key not yet compared."""
    name, data = _certified(cast, settings)
    person = next(one for one in cast.accounts.values() if one.name == name)
    query = select(Enrolment).where(Enrolment.student_id == person.id)
    row = cast.session.scalars(query).unique().one()
    act = cast.act(cast.chief, cast.now - timedelta(hours=2))
    foreign = taking.read_foreign(act, data)
    wanted = taking.Take(row.id, trust=False, typed="", words="")
    taking.take(act, wanted, foreign)


def _certified(cast: Cast, settings: Settings) -> tuple[str, bytes]:
    """The student's name and the portable file."""
    engine = open_engine("sqlite://")
    try:
        schema.upgrade(engine)
        with Database(engine).write() as session:
            return _taught(session, cast, settings)
    finally:
        engine.dispose()


def _taught(session: Session, cast: Cast, settings: Settings) -> tuple[str, bytes]:
    scenario, seed = read_scenario("elsewhere"), keys.new_key()
    (student,) = scenario.students
    began = cast.now - timedelta(days=TAUGHT)
    founding.found(session, seed, scenario.name, scenario.zone, began)
    own = replace(settings, seed=seed)
    accounts = casting.accounts_of(session, scenario, own, began)
    pens = casting.pens_of(session, accounts, own, began)
    folder = bundled("seed_data") / "courses" / student.course
    enrolling.publish(session, read_folder(folder), began)
    random = Random(TAUGHT)  # noqa: S311 - a simulation, not a secret
    other = Cast(session, scenario, accounts, pens, random, cast.now - timedelta(days=60))
    for _ in training.career(other, student, began + timedelta(days=2)):
        pass
    row = session.scalars(select(Enrolment)).unique().one()
    act = other.act(other.chief, other.now)
    ending = enrolling.End(row.id, "transferred", act.today, "The family moved to Sandrey Bay.")
    enrolling.end_enrolment(act, ending)
    wanted = certifying.Certify(row.id, Purpose.TRANSFER, confirmed=True)
    issued = certifying.certify(act, wanted, None)
    return student.name, copies.unpack(issued.copy.content)
