"""Import: upload, preview with row-by-row faults, commit all or nothing."""

import hashlib
import re
from functools import partial
from pathlib import Path

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.exchange.workbook import read_file, read_named
from gradebook.records.commands import jobs as commands
from gradebook.records.faults import LONGEST_REASON, InvalidError
from gradebook.records.importing import LAYOUTS, STUDENTS
from gradebook.records.jobs import Kind, is_long, silent
from gradebook.records.store import courses, jobs, people
from gradebook.records.working import works
from gradebook.records.working.waiting import uploaded
from gradebook.views import aside, desk
from gradebook.views.forms.deciding import ImportForm
from syllabus.saying import say

bp = Blueprint("exchange", __name__)
SHOWN = 200


def _kept(digest: str) -> Path:
    """Where an uploaded file waits between preview and commit."""
    return uploaded(desk.office().settings.data, digest)


@bp.get("/import")
def start() -> str:
    """Which files can be imported, and the form."""
    with desk.reading() as act:
        latest = courses.latest_revisions(act.session)
    return render_template(
        "exchange/start.html", layouts=LAYOUTS, courses=latest, form=ImportForm()
    )


@bp.post("/import/preview")
def preview() -> str | tuple[str, int]:
    """What the file would write, or every fault in it. Nothing is written yet."""
    sent = request.files.get("file")
    data = sent.read() if sent else b""
    name = (sent.filename or "") if sent else ""
    table = read_named(name, data, LAYOUTS)
    reason = request.form.get("reason", "")
    with desk.reading() as act:
        plan = works.plan_of(act, table, reason)
        digest = hashlib.sha256(data).hexdigest()
        aside.sweep()
        if not plan.faults:
            _kept(digest).write_bytes(data)
        earlier = aside.earlier(act, digest) if plan.faults else None
        page = render_template(
            "exchange/preview.html",
            plan=plan,
            table=table,
            digest=digest,
            name=name[:100],
            reason=reason,
            shown=plan.faults[:SHOWN],
            earlier=earlier,
        )
    return (page, 422) if plan.faults else page


@bp.post("/import/commit")
def commit() -> Response | tuple[str, int]:
    """Check the file again against the school as it is now, and write it whole."""
    digest = request.form.get("digest", "")
    kept = _kept(digest) if re.fullmatch(r"[0-9a-f]{64}", digest) else None
    with desk.reading() as act:
        under_way = aside.under_way(jobs.imports_of(act.session, act.actor, digest))
    if kept is None or under_way is not None or not kept.exists():
        return _otherwise(digest, works.NOT_HERE)
    reason = request.form.get("reason", "")[: LONGEST_REASON + 1]
    wanted = {"subject": digest, "reason": reason}
    table = read_file(kept.read_bytes(), LAYOUTS)
    unit = "student" if table.layout is STUDENTS else "grade"
    here = desk.office().settings
    if is_long(unit, len(table.rows), here.at_once_ms):
        return aside.begin(Kind.IMPORT, wanted)
    try:
        with desk.acting() as act:
            work = partial(works.bring_in, works.Site(here, silent), act)
            done = commands.at_once(act, Kind.IMPORT, wanted, work)
    except (InvalidError, works.AlreadyError) as fault:
        return _otherwise(digest, fault.words)
    kept.unlink(missing_ok=True)
    return aside.led(done.id)


def _otherwise(digest: str, words: str) -> Response | tuple[str, int]:
    """Why this file is not imported now: somebody did it, or is at it; else by `words`."""
    with desk.reading() as act:
        rows = jobs.imports_of(act.session, act.actor, digest)
        same = aside.under_way(rows) or jobs.brought_in(act.session, act.actor, digest)
        if same is None:
            flash(words, "error")
            return redirect(url_for("exchange.start"), 303)
        if same.asked_by == act.actor.person_id:
            flash(say("You sent this file before: this is how it stands."))
            return aside.led(same.id)
        asker = people.person(act.session, same.asked_by).name
    page = render_template("exchange/already.html", now=aside.standing(same), asker=asker)
    return page, 409
