"""Certified copies: the list, making one, reading it, taking it away as a file or a PDF."""

import segno
from flask import Blueprint, flash, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook import clock
from gradebook.paths import bundled
from gradebook.pictures import paper
from gradebook.pictures.paper import Attached
from gradebook.records.commands import certifying
from gradebook.records.commands.certifying import Issued
from gradebook.records.copying import document, seal
from gradebook.records.copying.papers import Certification, Purpose
from gradebook.records.copying.shape import shown_in
from gradebook.records.faults import InvalidError, SlowDownError, StaleError, UnknownError
from gradebook.records.permissions import Action, may
from gradebook.records.store import copies, enrolments, gate, standing
from gradebook.records.store.copies import CertifiedCopy
from gradebook.views import desk
from gradebook.views.answers import show_fault
from gradebook.views.forms.copying import CertifyForm
from syllabus.saying import say

bp = Blueprint("copies", __name__)
KIND = "application/json"


def _list(enrolment_id: str, form: CertifyForm) -> str:
    with desk.reading() as act:
        row = enrolments.enrolment(act.session, act.actor, Action.COPY_READ, enrolment_id)
        state = standing.standing(act.session, row, act.today)
        made = copies.made(act.session, enrolment_id)
        asked = Certification(Purpose.GRADUATION, None, act.at, act.zone)
        missing = document.missing(copies.papers(act.session, row), asked)
        relations = gate.relations_to(act.actor, row)
    return render_template(
        "copies/index.html",
        state=state,
        copies=made,
        missing=missing,
        form=form,
        may_certify=may(desk.actor(), Action.CERTIFY, relations),
        may_request=may(desk.actor(), Action.COPY_REQUEST, relations),
    )


@bp.get("/students/<enrolment_id>/copies")
def index(enrolment_id: str) -> str:
    """The copies made, what the record lacks, and the way to a new one."""
    return _list(enrolment_id, CertifyForm())


@bp.post("/students/<enrolment_id>/copies")
def certify(enrolment_id: str) -> Response | tuple[str, int]:
    """The chief certifies the record, with the secret typed again."""
    form = CertifyForm(request.form)
    with desk.reading() as act:
        enrolments.enrolment(act.session, act.actor, Action.CERTIFY, enrolment_id)
    wanted = certifying.Certify(enrolment_id, form.purpose.data or "", form.confirmed.data)
    try:
        pen = desk.prove(desk.actor().person_id, form.secret.data or "", form.shown())
        with desk.acting(pen) as act:
            issued = certifying.certify(act, wanted, desk.newest_outside())
    except (InvalidError, SlowDownError, StaleError) as fault:
        status = show_fault(form, fault)
        return _list(enrolment_id, form), status
    return _made(issued, say("Certified. The checkpoint printed on it has left the building."))


@bp.post("/students/<enrolment_id>/copies/own")
def request_own(enrolment_id: str) -> Response:
    """A copy at the student's own request, signed by the school's key."""
    with desk.acting() as act:
        issued = certifying.request_own(act, enrolment_id, desk.newest_outside())
    return _made(issued, say("Your copy is ready."))


def _made(issued: Issued, words: str) -> Response:
    desk.let_out(issued.checkpoint)
    flash(words)
    return redirect(url_for("copies.page", copy_id=issued.copy.id), 303)


def _page(template: str, row: CertifiedCopy, data: bytes) -> str:
    stamp = seal.seal_of(data)
    code = segno.make(stamp.code, error="m")
    return render_template(
        template,
        row=row,
        paper=shown_in(data),
        seal=stamp,
        code=code.svg_data_uri(scale=4, light="#fff"),
        no_pdf=paper.missing(),
        sizes=paper.PAPERS,
    )


@bp.get("/copies/<copy_id>")
def page(copy_id: str) -> str:
    """A copy as it was certified, ready to print."""
    with desk.reading() as act:
        row = copies.copy(act.session, act.actor, Action.COPY_READ, copy_id)
        return _page("copies/page.html", row, copies.unpack(row.content))


@bp.post("/copies/<copy_id>/file")
def file(copy_id: str) -> Response:
    """The portable file."""
    row, data = _taken(copy_id, "file")
    return _download(data, KIND, _name(row, data))


@bp.post("/copies/<copy_id>/pdf")
def pdf(copy_id: str) -> Response:
    """The copy as a PDF, the portable file inside; back to its page where none can be made."""
    size = request.form.get("paper", "A4")
    if size not in paper.PAPERS:
        raise UnknownError
    if paper.missing():
        flash(say("No PDF can be made here: {missing}.", missing=paper.missing()), "error")
        return redirect(url_for("copies.page", copy_id=copy_id), 303)
    row, data = _taken(copy_id, "pdf")
    name = _name(row, data)
    attached = Attached(name, "The portable file that can be verified", data, row.made_at)
    style = (bundled("static") / "css" / "copy.css").read_text(encoding="utf-8")
    made = paper.pdf_of(_page("copies/paper.html", row, data), style, size, attached)
    return _download(made, "application/pdf", f"{name.removesuffix(seal.SUFFIX)}pdf")


def _taken(copy_id: str, form: str) -> tuple[CertifiedCopy, bytes]:
    """The copy and its content, noted as taken away."""
    with desk.acting() as act:
        row = certifying.take_away(act, copy_id, form)
        return row, copies.unpack(row.content)


def _name(row: CertifiedCopy, data: bytes) -> str:
    told = shown_in(data)
    made_on = clock.school_day(row.made_at, told["school"]["zone"]).isoformat()
    return seal.file_name(told["student"]["name"], told["course"]["title"], made_on)


def _download(data: bytes, kind: str, name: str) -> Response:
    answer = make_response(data)
    answer.headers["Content-Type"] = kind
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
