"""Writing the demo school: people, courses, and every simulated student's lessons."""

import shutil
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from heapq import heapify, heappop, heapreplace
from pathlib import Path
from random import Random

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.demo import casting, elsewhere, endings, training, upkeep
from gradebook.demo.scenario import Student, read_scenario
from gradebook.demo.training import Cast
from gradebook.ledger import keys
from gradebook.paths import bundled
from gradebook.records import checkpoints
from gradebook.records.commands import (
    carrying,
    checkpointing,
    enrolling,
    founding,
    needling,
)
from gradebook.records.commands.checkpointing import LedgerCheckpoint
from gradebook.records.database import Database, open_engine
from gradebook.records.keeping import erasures
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
    engine = open_engine(settings.owning)
    try:
        with carrying.owning(engine) as session:
            if people.school(session) is not None:
                return False
            _write(session, settings)
        _keep_outside(settings, Database(engine))
    finally:
        engine.dispose()
    return True


def _write(session: Session, settings: Settings) -> None:
    scenario, now = read_scenario(), settings.now()
    began, first = now - timedelta(days=BEGAN), keys.new_key()
    founding.found(session, first, scenario.name, scenario.zone, began)
    own = replace(settings, seed=first)
    accounts = casting.accounts_of(session, scenario, own, began)
    pens = casting.pens_of(session, accounts, own, began)
    for folder in sorted((bundled("seed_data") / "courses").iterdir()):
        if folder.is_dir():
            enrolling.publish(session, read_folder(folder), began)
    random = Random(SEED)  # noqa: S311 - a simulation, not a secret
    cast = training.Cast(session, scenario, accounts, pens, random, now)
    for number, at in enumerate(_in_order([*_runs(cast, first, settings.seed)])):
        if number == FIRST_FIT:
            needling.refit(session, at)
    endings.finish(cast)
    needling.refit(session, now)
    elsewhere.take_in(cast, settings)
    endings.certify(cast)
    checkpointing.issue(session, house_of(settings.seed), now, None)


def _runs(cast: Cast, old: bytes, new: bytes) -> Iterator[Iterator[datetime]]:
    """What goes on side by side: each student's training, and what the office does."""
    for number, student in enumerate(cast.scenario.students):
        random = Random(SEED + number)  # noqa: S311 - likewise
        yield training.career(replace(cast, random=random), student, _first_day(student, cast))
        if student.erased:
            yield upkeep.erase(cast, student, old)
        if student.asked:
            yield upkeep.let_wait(cast, student)
    yield upkeep.change_key(cast, old, new)


def _keep_outside(settings: Settings, here: Database) -> None:
    """What a school keeps beside its database: its checkpoints, and notices of erasures."""
    places = checkpoints.folders(settings.data)
    with here.read() as session:
        for row in session.scalars(select(LedgerCheckpoint)):
            checkpoints.keep(row.note, row.size, places)
        erasures.keep_notices(session, places)
    erasures.sweep(here.engine)
    erasures.note_swept(here, settings.now())


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


def _first_day(student: Student, cast: Cast) -> datetime:
    """When a student began, so that the last lesson lies a few days ago."""
    days = max(4, int(student.lessons * student.gap * 1.15) + student.pause + 3)
    return cast.morning(days + student.left)
