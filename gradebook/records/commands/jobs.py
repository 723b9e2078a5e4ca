"""Asking for long work, and how it ends."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import delete
from sqlalchemy.orm import Session

from gradebook import words
from gradebook.records.act import Act
from gradebook.records.faults import ConflictError, RecordsError
from gradebook.records.jobs import ACTION, Kind, State
from gradebook.records.store import gate, jobs
from gradebook.records.store.jobs import Job
from gradebook.words import Language
from syllabus.saying import say

Work = Callable[[Job], Mapping[str, Any]]


def ask(act: Act, job_id: str, kind: Kind, wanted: Mapping[str, Any]) -> Job:
    """Put down what is to be done; ForbiddenError for whoever may not do it themselves."""
    row = _asked(act, job_id, kind, wanted)
    act.note(ACTION[kind], job_id, job=kind.value)
    return row


def at_once(act: Act, kind: Kind, wanted: Mapping[str, Any], work: Work) -> Job:
    """Do what does not take long in this very transaction, and keep what came of it."""
    row = _asked(act, jobs.new_id(), kind, wanted)
    finish(act, row, work(row))
    return row


def _asked(act: Act, job_id: str, kind: Kind, wanted: Mapping[str, Any]) -> Job:
    gate.demand(act.actor, ACTION[kind])
    spoken = words.reader()
    row = Job(
        id=job_id,
        kind=kind.value,
        asked_by=act.actor.person_id,
        asked_at=act.at,
        state=State.ASKED.value,
        ended_at=None,
        wanted={**wanted, "language": [spoken.code, spoken.dates]},
        outcome={},
    )
    act.session.add(row)
    return row


def forget_old(session: Session, at: datetime) -> None:
    """Forget jobs of which nobody needs to know any more."""
    session.execute(delete(Job).where(Job.asked_at < at - jobs.KEPT))


def again(act: Act, job_id: str) -> Job:
    """Ask once more for work that was interrupted or failed; ConflictError when it is done."""
    row = jobs.job(act.session, act.actor, job_id)
    gate.demand(act.actor, ACTION[Kind(row.kind)])
    if row.state == State.DONE:
        raise ConflictError(say("This work has ended already."))
    row.state, row.asked_at, row.ended_at = State.ASKED.value, act.at, None
    row.outcome = {}
    act.note(ACTION[Kind(row.kind)], job_id, job=row.kind, again=True)
    return row


def finish(act: Act, row: Job, outcome: Mapping[str, Any]) -> None:
    """Say what came of the work, in the transaction in which it was done."""
    _end(act, row, State.DONE, outcome)


def fail(act: Act, row: Job, outcome: Mapping[str, Any]) -> None:
    """Say why nothing came of it."""
    _end(act, row, State.FAILED, outcome)
    act.note(ACTION[Kind(row.kind)], row.id, job=row.kind, failed=True)


def _end(act: Act, row: Job, state: State, outcome: Mapping[str, Any]) -> None:
    if row.state != State.ASKED:
        raise ConflictError(say("This work has ended already."))
    row.state, row.ended_at = state.value, act.at
    with words.speaking(Language(*row.wanted["language"])):
        row.outcome = dict(words.spoken_all(dict(outcome)))  # type: ignore[call-overload]
    act.session.flush()


def told(fault: RecordsError) -> dict[str, Any]:
    """A fault as the outcome of a job that failed."""
    return {"words": fault.words or say("Your role does not allow this.")}
