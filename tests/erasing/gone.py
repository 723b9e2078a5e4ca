"""A student past retention, full of words that must not be found once they are erased."""

import re
from datetime import timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import inspect, text

from gradebook.ledger.notes import Checkpoint
from gradebook.records import checkpoints
from gradebook.records.commands import carrying, enrolling, erasing
from gradebook.records.database import open_engine
from gradebook.records.store import schoolkeys
from gradebook.records.store.erasing import subject
from gradebook.records.tables.people import Person
from tests.cast import SECRET, TestSchool
from tests.walks.test_main_job import FILLED, lesson_form, open_card, sign_first_lesson

NAME, EMAIL = "Xenia Quorvist", "ana@school.example"
REMARK, COMMENT, IDENT = "qzremark", "qzcomment", "QZ-77"
DRAFTED, REASON = "qzdraft", "qzreason"
CANARIES = ("Quorvist", EMAIL, REMARK, COMMENT, IDENT, DRAFTED, REASON)
BASIS = "Retention of five years has run; 14 CFR 141.101(d) and 61.189(c) are met."


def leave_traces(school: TestSchool) -> str:
    """Ana signs, answers, disagrees, leaves; another student flies too. Ana's record's id."""
    with school.database.write() as session:
        session.get_one(Person, school.ids["ana"]).name = NAME
    record = sign_first_lesson(
        school, **{"remark-hover": REMARK, "remarks": REMARK, "ident": IDENT}
    )
    ana = school.visitor("ana")
    ana.get(f"/records/{record}")
    ana.post(
        f"/records/{record}/acknowledge", answer="disagree", comment=COMMENT, secret=SECRET
    )
    ben = school.visitor("ben")
    draft, page = open_card(ben, school, "s-02")
    thrown = {**FILLED, **lesson_form(page), "remarks": DRAFTED, "do": "save"}
    ben.send(f"/lessons/{draft}", thrown)
    ben.send(f"/lessons/{draft}/discard", lesson_form(ben.get(f"/lessons/{draft}")))
    _end(school)
    sign_for_hal(school)
    return record


def sign_for_hal(school: TestSchool) -> None:
    """Dov signs a lesson of Hal, whose records must stay as they are."""
    own = school.enrolment
    school.enrolment = school.stranger_enrolment
    dov = school.visitor("dov")
    record, page = open_card(dov, school)
    dov.send(f"/lessons/{record}", {**FILLED, **lesson_form(page), "remarks": "hal stays"})
    review = dov.get(f"/lessons/{record}/review")
    dov.send(f"/lessons/{record}/sign", {**lesson_form(review), "secret": SECRET})
    school.enrolment = own


def _end(school: TestSchool) -> None:
    with school.database.write() as session:
        act = school.act(session, "cleo")
        ending = enrolling.End(school.enrolment, "terminated", act.today, REASON)
        enrolling.end_enrolment(act, ending)


def agreed(school: TestSchool, student: str = "ana", years: int = 6) -> str:
    """Years later Cleo asks and Flo confirms; the request's id."""
    school.clock.at += timedelta(days=366 * years)
    with school.database.write() as session:
        name = session.get_one(Person, school.ids[student]).name
        asked = erasing.ask(
            school.act(session, "cleo"), erasing.Ask(school.ids[student], BASIS, early=False)
        )
        erasing.confirm(school.act(session, "flo"), asked.id, name)
        return asked.id


def erase(school: TestSchool, request: str) -> carrying.Done:
    """Carry it out, as the owner of the schema."""
    engine = open_engine(school.settings.owning)
    places = checkpoints.folders(school.settings.data)
    with school.database.read() as session:
        line = schoolkeys.succession(session)
    known: list[Checkpoint] = list(checkpoints.kept(places, line))
    try:
        house = carrying.House(school.settings.seed, known)
        return carrying.carry_out(engine, house, request, school.clock.at)
    finally:
        engine.dispose()


def _vkey(session: Any) -> str:
    found: str = session.execute(text("SELECT vkey FROM school")).scalar_one()
    return found


def told_of(school: TestSchool, *words: str) -> list[str]:
    """Where in the database, table and column, one of these words stands."""
    engine, found = school.database.engine, []
    with engine.connect() as connection:
        tables = inspect(connection)
        for table in tables.get_table_names():
            for row in connection.execute(text(f'SELECT * FROM "{table}"')).mappings():  # noqa: S608
                found += [
                    f"{table}.{column}: {word}"
                    for column, value in row.items()
                    for word in words
                    if word.casefold() in _plain(value)
                ]
    return found


def _plain(value: object) -> str:
    if isinstance(value, bytes | memoryview):
        return bytes(value).decode("latin-1").casefold()
    return str(value).casefold()


def in_files(folder: Path, *words: str) -> list[str]:
    """Which files of a SQLite school hold one of these words, byte for byte.

    The database's, and those that wait to be imported or tell of long work.
    """
    places = "windtee.db*", "imports/*", "jobs/*"
    files = [path for place in places for path in folder.glob(place) if path.is_file()]
    return [
        f"{path.name}: {word}"
        for path in files
        for word in words
        if re.search(re.escape(word.encode()), path.read_bytes(), re.IGNORECASE)
    ]


def rows_of_others(school: TestSchool) -> dict[str, set[str]]:
    """Every row but those an erasure may touch: what must be equal before and after."""
    with school.database.read() as session:
        who = subject(session, school.ids["ana"])
    own = {who.person_id, *who.enrolments, *who.records}
    found: dict[str, set[str]] = {}
    with school.database.engine.connect() as connection:
        for table in inspect(connection).get_table_names():
            rows = connection.execute(text(f'SELECT * FROM "{table}"'))  # noqa: S608
            found[table] = {
                str(tuple(row)) for row in rows if not any(one in str(row) for one in own)
            }
    return found
