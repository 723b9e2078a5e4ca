"""Long work, for whoever asked for it."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from gradebook.records.faults import UnknownError
from gradebook.records.jobs import Kind, State
from gradebook.records.permissions import Action, Actor
from gradebook.records.store import gate
from gradebook.records.store.together import Asked
from gradebook.records.tables.columns import new_id as new_id
from gradebook.records.tables.jobs import Job as Job

KEPT = timedelta(days=1)
"""How long what came of a job can be seen."""


def job(session: Session, actor: Actor, job_id: str) -> Job:
    """One job, for the person who asked for it; UnknownError for everybody else."""
    row = session.get(Job, job_id)
    if row is None or row.asked_by != actor.person_id:
        raise UnknownError
    return row


LATELY = Asked(
    select(Job.id, Job.kind, Job.asked_at, Job.state).where(
        Job.asked_by == bindparam("jobs_of"), Job.asked_at > bindparam("jobs_since")
    )
)


def lately(actor: Actor, at: datetime) -> Asked:
    """The question which jobs this person asked for within a day: what a list of them shows."""
    return LATELY.of(jobs_of=actor.person_id, jobs_since=at - KEPT)


def open_same(session: Session, actor: Actor, kind: Kind, subject: str) -> Sequence[Job]:
    """Jobs of this kind about the same, which this person asked for and which have no end."""
    query = select(Job).where(
        Job.asked_by == actor.person_id, Job.kind == kind, Job.state == State.ASKED
    )
    return [row for row in session.scalars(query) if row.wanted.get("subject") == subject]


def imports_of(session: Session, actor: Actor, digest: str) -> Sequence[Job]:
    """The imports of this very file, the newest first, whoever asked for them.

    ForbiddenError for whoever may not import.
    """
    gate.demand(actor, Action.IMPORT)
    query = select(Job).where(Job.kind == Kind.IMPORT).order_by(Job.asked_at.desc())
    return [row for row in session.scalars(query) if row.wanted.get("subject") == digest]


def brought_in(session: Session, actor: Actor, digest: str) -> Job | None:
    """The last import that wrote what is in this file, whoever asked for it; None of none."""
    rows = imports_of(session, actor, digest)
    return next((row for row in rows if row.state == State.DONE), None)
