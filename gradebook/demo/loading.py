"""Writing the demo school: people, courses, and every simulated student's lessons."""

import shutil
from collections.abc import Iterator, Sequence
from datetime import datetime, time, timedelta
from heapq import heapify, heappop, heapreplace
from pathlib import Path
from random import Random
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from gradebook.demo import casting, elsewhere, endings, training
from gradebook.demo.scenario import Student, read_scenario
from gradebook.paths import bundled
from gradebook.records import checkpoints
from gradebook.records.commands import (
    checkpointing,
    enrolling,
    founding,
    needling,
)
from gradebook.records.database import Database, open_engine
from gradebook.records.keeping.upgrading import migrate
from gradebook.records.pen import house_of
from gradebook.records.store import people
from gradebook.settings import Settings
from syllabus.reading import read_folder

SEED = 20260
FIRST_FIT = 300
"""After so many lessons the needle is first fitted, as a school would after some seasons."""
BEGAN = 2400
"""So many days ago the school opened: long enough for a student who is past retention."""
FOLDERS = ("checkpoints",)
FILES = ("windtee.db", "windtee.db-wal", "windtee.db-shm", "windtee.db-journal")


def clear(data: Path) -> None:
    """Throw the demo's database and its checkpoints away."""
    for name in FILES:
        (data / name).unlink(missing_ok=True)
    for name in FOLDERS:
        shutil.rmtree(data / name, ignore_errors=True)


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
    began = now - timedelta(days=BEGAN)
    founding.found(session, settings.seed, scenario.name, scenario.zone, began)
    accounts = casting.accounts_of(session, scenario, settings, began)
    pens = casting.pens_of(session, accounts, settings, began)
    for folder in sorted((bundled("seed_data") / "courses").iterdir()):
        if folder.is_dir():
            enrolling.publish(session, read_folder(folder), began)
    runs = []
    for number, student in enumerate(scenario.students):
        random = Random(SEED + number)  # noqa: S311 - a simulation, not a secret
        cast = training.Cast(session, scenario, accounts, pens, random, now)
        start = _first_day(student, now, scenario.zone)
        runs.append(training.career(cast, student, start))
    for number, at in enumerate(_in_order(runs)):
        if number == FIRST_FIT:
            needling.refit(session, at)
    random = Random(SEED)  # noqa: S311 - likewise
    cast = training.Cast(session, scenario, accounts, pens, random, now)
    endings.finish(cast)
    needling.refit(session, now)
    elsewhere.take_in(cast, settings)
    endings.certify(cast)
    house = house_of(settings.seed)
    row = checkpointing.issue(session, house, now, None)
    checkpoints.keep(row.note, row.size, checkpoints.folders(settings.data))


def _in_order(runs: Sequence[Iterator[datetime]]) -> Iterator[datetime]:
    """Let whoever comes next in time do the next thing: a ledger is written as days pass.

    Each run says when it wants to go on; it does so when it is asked again.
    """
    waiting = [(next(run), number) for number, run in enumerate(runs)]
    heapify(waiting)
    while waiting:
        at, number = waiting[0]
        later = next(runs[number], None)
        if later is None:
            heappop(waiting)
        else:
            heapreplace(waiting, (later, number))
        yield at


def _first_day(student: Student, now: datetime, zone: str) -> datetime:
    """When a student began, so that the last lesson lies a few days ago."""
    days = max(4, int(student.lessons * student.gap * 1.15) + student.pause + 3)
    days += student.left
    day = now.astimezone(ZoneInfo(zone)).date() - timedelta(days=days)
    return datetime.combine(day, time(9, 0), ZoneInfo(zone))
