"""Import: upload, preview with row-by-row faults, commit all or nothing."""

import hashlib
import re
from pathlib import Path

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.exchange.table import TableRead
from gradebook.exchange.workbook import read_file, read_named
from gradebook.formats import count
from gradebook.records.act import Act
from gradebook.records.commands import importing as commands
from gradebook.records.commands import importing_lessons
from gradebook.records.commands.importing_lessons import LONGEST_REASON
from gradebook.records.faults import InvalidError
from gradebook.records.importing import LAYOUTS, STUDENTS
from gradebook.records.jobs import Kind, is_long
from gradebook.records.store import courses
from gradebook.records.working.works import uploaded
from gradebook.views import aside, desk
from gradebook.views.forms.deciding import ImportForm
from syllabus.saying import say

bp = Blueprint("exchange", __name__)
SHOWN = 200
WAITS_SECONDS = 24 * 3600
"""How long a file waits between preview and commit."""


def _kept(digest: str) -> Path:
    """Where an uploaded file waits between preview and commit."""
    return uploaded(desk.office().settings.data, digest)


def _forget_old() -> None:
    """Delete what nobody came back to commit."""
    oldest = desk.now().timestamp() - WAITS_SECONDS
    for path in _kept("").iterdir():
        if path.stat().st_mtime < oldest:
            path.unlink(missing_ok=True)


def _plan(act: Act, table: TableRead, reason: str) -> commands.Plan:
    if table.faults or table.layout is None:
        return commands.Plan(faults=table.faults)
    if table.layout is STUDENTS:
        return commands.plan_students(act, table.rows)
    return importing_lessons.plan_lessons(act, table.rows, reason)


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
        plan = _plan(act, table, reason)
        digest = hashlib.sha256(data).hexdigest()
        _forget_old()
        if not plan.faults:
            _kept(digest).write_bytes(data)
        page = render_template(
            "exchange/preview.html",
            plan=plan,
            table=table,
            digest=digest,
            name=name[:100],
            reason=reason,
            shown=plan.faults[:SHOWN],
        )
    return (page, 422) if plan.faults else page


@bp.post("/import/commit")
def commit() -> Response:
    """Check the file again against the school as it is now, and write it whole."""
    digest = request.form.get("digest", "")
    kept = _kept(digest) if re.fullmatch(r"[0-9a-f]{64}", digest) else None
    if kept is None or not kept.exists():
        flash(say("The file is not here any more: choose it again."), "error")
        return redirect(url_for("exchange.start"), 303)
    table = read_file(kept.read_bytes(), LAYOUTS)
    unit = "student" if table.layout is STUDENTS else "grade"
    if is_long(unit, len(table.rows), desk.office().settings.at_once_ms):
        reason = request.form.get("reason", "")[:LONGEST_REASON]
        return aside.begin(Kind.IMPORT, {"subject": digest, "reason": reason})
    try:
        with desk.acting() as act:
            words = _carry_out(act, table, request.form.get("reason", ""))
    except InvalidError as fault:
        flash(fault.words, "error")
        return redirect(url_for("exchange.start"), 303)
    kept.unlink(missing_ok=True)
    flash(words)
    return redirect(url_for("students.index"), 303)


def _carry_out(act: Act, table: TableRead, reason: str) -> str:
    plan = _plan(act, table, reason)
    if table.layout is STUDENTS:
        number = commands.import_students(act, plan)
        students = count(number, "student")
        return say(
            "{students} imported. An administrator invites each from their page under People.",
            students=students,
        )
    number = importing_lessons.import_lessons(act, plan)
    grades = count(plan.n_grades, "grade")
    return say(
        "{lessons} with {grades} imported.",
        lessons=count(number, "lesson"),
        grades=grades,
    )
