"""Doing one job: in its turn, for a person who still may, whole or not at all."""

from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from gradebook.records import checkpoints, headway
from gradebook.records.act import Act
from gradebook.records.commands import checkpointing, jobs
from gradebook.records.commands.checkpointing import LedgerCheckpoint
from gradebook.records.database import Database
from gradebook.records.faults import RecordsError, UnknownError
from gradebook.records.jobs import Kind, State
from gradebook.records.pen import Pen, house_of
from gradebook.records.permissions import Action, Actor
from gradebook.records.store import people, schoolkeys
from gradebook.records.store.jobs import Job
from gradebook.records.working.waiting import uploaded
from gradebook.records.working.works import READS, WRITES, FaultyError, Site
from gradebook.settings import Settings
from syllabus.saying import say

Told = dict[str, Any]
BROKEN = say(
    "Something went wrong on our side, and the server's log says where. Nothing was changed: "
    "start it again, and if it fails again tell whoever runs the server."
)


def do(
    settings: Settings,
    database: Database,
    job_id: str,
    log: Callable[[Exception], None],
) -> None:
    """Do the job whose lock the caller holds, and say how it ended.

    What a person can mend is kept as the job's failure. Any other exception goes to `log` and
    is kept as our fault.
    """
    folder = headway.folder_in(settings.data)
    site = Site(settings, headway.teller(folder, job_id))
    site.tell("wait", 0, 0)
    with headway.in_turn(folder):
        site.tell("begin", 0, 0)
        try:
            _do(site, database, job_id)
        except FaultyError as fault:
            _fail(settings, database, job_id, {**jobs.told(fault), "faults": fault.faults})
        except RecordsError as fault:
            _fail(settings, database, job_id, jobs.told(fault))
        except Exception as fault:  # noqa: BLE001 - whatever it is, somebody waits for an answer
            log(fault)
            _fail(settings, database, job_id, {"words": BROKEN})


def _do(site: Site, database: Database, job_id: str) -> None:
    with database.read() as session:
        row = session.get(Job, job_id)
        if row is None or row.state != State.ASKED:
            return
        work = READS.get(Kind(row.kind))
        found = work(site, _act(session, row, site.settings), row) if work else None
    if found is None:
        _write(site, database, job_id)
        return
    with database.write() as session:
        act, row = _asked(session, job_id, site.settings)
        facts = {"verified": found["size"], "findings": found["number"]}
        act.note(Action.AUDIT_READ, None, **facts)
        jobs.finish(act, row, found)


def _write(site: Site, database: Database, job_id: str) -> None:
    """The work, what came of it and a checkpoint that has become due: one transaction."""
    at = site.settings.now()
    with database.write() as session:
        act, row = _asked(session, job_id, site.settings)
        jobs.finish(act, row, WRITES[Kind(row.kind)](site, act, row))
        subject = row.wanted["subject"]
        checkpoint = _checkpoint(site, session, at)
        site.tell("commit", 0, 0)
    uploaded(site.settings.data, subject).unlink(missing_ok=True)
    if checkpoint is not None:
        checkpoints.keep(checkpoint.note, checkpoint.size, site.places)


def _checkpoint(site: Site, session: Session, at: datetime) -> LedgerCheckpoint | None:
    if not checkpointing.is_due(session, at):
        return None
    with checkpoints.ours():
        known = checkpoints.newest(site.places, schoolkeys.succession(session))
    return checkpointing.issue(session, house_of(site.settings.seed), at, known)


def _asked(session: Session, job_id: str, settings: Settings) -> tuple[Act, Job]:
    """The act and its job; UnknownError when jobs were forgotten meanwhile."""
    row = session.get(Job, job_id)
    if row is None:
        raise UnknownError
    return _act(session, row, settings), row


def _act(session: Session, row: Job, settings: Settings) -> Act:
    """An act of whoever asked, with the roles they hold now, and the school's key alone."""
    person, school = people.person(session, row.asked_by), people.school(session)
    roles = people.roles_of(person) if person.active else frozenset()
    actor = Actor(person.id, person.name, roles)
    zone = school.zone if school is not None else "UTC"
    return Act(session, actor, settings.now(), zone, Pen(house_of(settings.seed)))


def _fail(settings: Settings, database: Database, job_id: str, outcome: Told) -> None:
    with suppress(UnknownError), database.write() as session:
        act, row = _asked(session, job_id, settings)
        if row.state == State.ASKED:
            jobs.fail(act, row, outcome)
