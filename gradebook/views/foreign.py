"""Records of other schools: chosen, shown, taken in, and read beside the student's own."""

import re
from pathlib import Path

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.ledger.canonical import sha256_hex
from gradebook.records.act import Act
from gradebook.records.commands import taking
from gradebook.records.commands.taking import Foreign
from gradebook.records.copying import seal
from gradebook.records.copying.shape import shown_in
from gradebook.records.faults import (
    ConflictError,
    InvalidError,
    Problem,
    RecordsError,
    SlowDownError,
)
from gradebook.records.permissions import Action
from gradebook.records.store import copies, enrolments, people
from gradebook.records.store.enrolments import Enrolment
from gradebook.records.working.waiting import uploaded
from gradebook.views import desk
from gradebook.views.answers import show_fault
from gradebook.views.forms.copying import FileForm, TakeForm
from syllabus.saying import say

bp = Blueprint("foreign", __name__)


def _kept(digest: str) -> Path:
    """Where a file waits between preview and being taken in."""
    return uploaded(desk.office().settings.data, f"{digest}.{seal.SUFFIX}")


def _enrolment(act: Act, enrolment_id: str) -> Enrolment:
    return enrolments.enrolment(act.session, act.actor, Action.FOREIGN_TAKE, enrolment_id)


def _start(enrolment_id: str, form: FileForm) -> str:
    with desk.reading() as act:
        row = _enrolment(act, enrolment_id)
    return render_template("foreign/start.html", row=row, form=form)


@bp.get("/students/<enrolment_id>/foreign")
def start(enrolment_id: str) -> str:
    """Choose a file."""
    return _start(enrolment_id, FileForm())


@bp.post("/students/<enrolment_id>/foreign")
def preview(enrolment_id: str) -> str | tuple[str, int]:
    """The verdict and what is inside. Nothing is taken in yet."""
    form = FileForm(request.form)
    sent = request.files.get("file")
    data = sent.read() if sent else b""
    try:
        with desk.reading() as act:
            _enrolment(act, enrolment_id)
            foreign = _read(act, data)
    except InvalidError as fault:
        status = show_fault(form, fault)
        return _start(enrolment_id, form), status
    _kept(foreign.sha256).write_bytes(data)
    return _preview(enrolment_id, foreign, TakeForm(digest=foreign.sha256))


def _read(act: Act, data: bytes) -> Foreign:
    if not data:
        raise InvalidError(Problem("file", say("Choose a file.")))
    return taking.read_foreign(act, data)


def _preview(enrolment_id: str, foreign: Foreign, form: TakeForm) -> str:
    with desk.reading() as act:
        row = _enrolment(act, enrolment_id)
    return render_template(
        "foreign/preview.html", row=row, foreign=foreign, paper=foreign.shown, form=form
    )


@bp.post("/students/<enrolment_id>/foreign/take")
def take(enrolment_id: str) -> Response | tuple[str, int]:
    """Take the file in as it came, with the chief's secret typed again."""
    form = TakeForm(request.form)
    digest = form.digest.data or ""
    path = _kept(digest) if re.fullmatch(r"[0-9a-f]{64}", digest) else None
    data = path.read_bytes() if path and path.exists() else b""
    with desk.reading() as act:
        _enrolment(act, enrolment_id)
        if sha256_hex(data) != digest:
            flash(say("The file is not here any more: choose it again."), "error")
            return redirect(url_for("foreign.start", enrolment_id=enrolment_id), 303)
        foreign = taking.read_foreign(act, data)
    try:
        kept = _take(enrolment_id, form, foreign)
    except (InvalidError, SlowDownError, ConflictError) as fault:
        return _again(enrolment_id, foreign, form, fault)
    if path is not None:
        path.unlink(missing_ok=True)
    flash(say("Taken in. It stands beside the record, and is no part of it."))
    return redirect(url_for("foreign.page", foreign_id=kept), 303)


def _take(enrolment_id: str, form: TakeForm, foreign: Foreign) -> str:
    trust = form.trust.data == "trust"
    wanted = taking.Take(enrolment_id, trust, form.typed.data or "", form.words.data or "")
    pen = desk.prove(desk.actor().person_id, form.secret.data or "", form.shown())
    with desk.acting(pen) as act:
        return taking.take(act, wanted, foreign).id


def _again(
    enrolment_id: str, foreign: Foreign, form: TakeForm, fault: RecordsError
) -> tuple[str, int]:
    status = show_fault(form, fault)
    return _preview(enrolment_id, foreign, form), status


@bp.get("/foreign/<foreign_id>")
def page(foreign_id: str) -> str:
    """A record of another school as it came."""
    with desk.reading() as act:
        row = copies.foreign(act.session, act.actor, foreign_id)
        data = copies.unpack(row.content)
        student = enrolments.enrolment(
            act.session, act.actor, Action.RECORD_READ, row.enrolment_id
        ).student
        names = people.names(act.session)
    return render_template(
        "foreign/page.html",
        row=row,
        paper=shown_in(data),
        seal=seal.seal_of(data),
        student=student,
        names=names,
    )


@bp.get("/trusted-keys")
def keys() -> str:
    """The keys of other schools that are trusted here, and by whose word."""
    with desk.reading() as act:
        trusted = copies.trusted(act.session)
        names = people.names(act.session)
    return render_template("foreign/keys.html", keys=trusted, names=names)
