"""Long work, begun by a request and done aside from it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flask import current_app, redirect, url_for
from werkzeug.wrappers import Response

from gradebook.records import headway
from gradebook.records.act import Act
from gradebook.records.commands import jobs as commands
from gradebook.records.faults import BusyError
from gradebook.records.jobs import ACTION, Count, Kind, State
from gradebook.records.permissions import Action, Actor, Relation, may
from gradebook.records.store import jobs, people
from gradebook.records.store.jobs import Job, new_id
from gradebook.records.working import doing, starting, waiting
from gradebook.views import desk
from syllabus.saying import say

NO_PROCESS = say("The server cannot start more work now: nothing was changed. Try again later.")


@dataclass(frozen=True, slots=True)
class Standing:
    """How a job stands now: asked while somebody is at it, else interrupted, done, failed.

    Of a job in a list `row` has what `jobs.lately` asks for.
    """

    row: Job
    state: State
    count: Count


def standing(row: Job) -> Standing:
    """How a job stands now."""
    folder, state = headway.folder_in(desk.office().settings.data), State(row.state)
    if state is State.ASKED and not headway.is_held(folder, row.id):
        state = State.INTERRUPTED
    return Standing(row, state, headway.count_of(folder, row.id))


def follows(actor: Actor) -> bool:
    """Whether somebody can have asked for long work."""
    return may(actor, Action.WORK_READ, frozenset({Relation.SELF}))


def lately(actor: Actor, rows: Iterable[Any]) -> Sequence[Standing]:
    """How the jobs of `jobs.lately` stand, the newest first; none that they may not follow."""
    own = [row for row in rows if may(actor, ACTION[Kind(row.kind)])]
    return [standing(row) for row in sorted(own, key=lambda row: row.asked_at, reverse=True)]


def under_way(rows: Iterable[Job]) -> Job | None:
    """The first of these jobs that somebody is at."""
    folder = headway.folder_in(desk.office().settings.data)
    asked = (row for row in rows if row.state == State.ASKED)
    return next((row for row in asked if headway.is_held(folder, row.id)), None)


def earlier(act: Act, digest: str) -> tuple[Job, str] | None:
    """The import that wrote what is in this file, and who asked for it; None of none."""
    row = jobs.brought_in(act.session, act.actor, digest)
    return None if row is None else (row, people.person(act.session, row.asked_by).name)


def begin(kind: Kind, wanted: Mapping[str, Any]) -> Response:
    """Ask for long work, have it started, and lead to its page.

    `wanted["subject"]` says what it is about: whoever asks for the same again while it is
    under way is led to where it stands.
    """
    here, job_id = desk.office(), new_id()
    folder = headway.folder_in(here.settings.data)
    with headway.held(folder, job_id) as lock:
        with desk.acting() as act:
            same = jobs.open_same(act.session, act.actor, kind, wanted["subject"])
            known = row.id if (row := under_way(same)) else None
            if known is None:
                commands.ask(act, job_id, kind, wanted)
        if known is None:
            _start(job_id, lock)
    if known is not None:
        headway.let_go(folder, job_id)
    sweep()
    return led(known or job_id)


def again(job_id: str) -> Response:
    """Start work anew that was interrupted or failed; one that is under way stays as it is."""
    here = desk.office()
    with desk.reading() as act:
        jobs.job(act.session, act.actor, job_id)
    with headway.held(headway.folder_in(here.settings.data), job_id) as lock:
        with desk.acting() as act:
            commands.again(act, job_id)
        _start(job_id, lock)
    return led(job_id)


def sweep() -> None:
    """Delete files that have waited for too long."""
    waiting.sweep(desk.office().settings.data, desk.now())


def led(job_id: str) -> Response:
    """To the page of a job."""
    return redirect(url_for("jobs.page", job_id=job_id), 303)


def _start(job_id: str, lock: int) -> None:
    here = desk.office()
    if here.settings.apart:
        try:
            starting.start(here.settings, job_id, lock)
        except OSError as fault:
            raise BusyError(NO_PROCESS) from fault
    else:
        doing.do(here.settings, here.database, job_id, _log)


def _log(fault: Exception) -> None:
    current_app.logger.error("failed", exc_info=fault)
