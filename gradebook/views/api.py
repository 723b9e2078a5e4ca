"""What our own script asks for while it carries cards: tokens, phones, deliveries."""

import json
from http import HTTPStatus

from flask import Blueprint, Response, g, request, url_for
from flask_wtf.csrf import generate_csrf

from gradebook import formats
from gradebook.records.act import Act
from gradebook.records.card import card_differences
from gradebook.records.commands import delivering, opening, phones, proving
from gradebook.records.commands.delivering import Delivery, Letter
from gradebook.records.commands.factors import Shown
from gradebook.records.faults import (
    BusyError,
    ChangedError,
    ConflictError,
    ForbiddenError,
    FullError,
    InvalidError,
    PhoneError,
    RecordsError,
    ReusedError,
    SlowDownError,
    StaleError,
    TornError,
    UnknownError,
)
from gradebook.records.permissions import Action
from gradebook.records.store import courses, ledger, lessons
from gradebook.replies import status_of
from gradebook.views import desk
from gradebook.views.forms.letter import read_letter, read_object
from syllabus.saying import say

bp = Blueprint("api", __name__, url_prefix="/api")
Told = tuple[dict[str, object], int]

REASONS: tuple[tuple[type[RecordsError], str], ...] = (
    (UnknownError, "unknown"),
    (ForbiddenError, "role"),
    (ConflictError, "changed"),
    (InvalidError, "invalid"),
    (ReusedError, "key-reused"),
    (SlowDownError, "slow"),
    (BusyError, "busy"),
    (TornError, "torn"),
    (FullError, "full"),
    (RecordsError, "unknown"),
)
WAIT = 30
"""Seconds after which it is worth asking again."""


@bp.errorhandler(RecordsError)
def refuse(fault: RecordsError) -> tuple[dict[str, object], int, dict[str, str]]:
    """A fault as the script reads it, with a word for it."""
    status = status_of(fault)
    reason = next(reason for kind, reason in REASONS if isinstance(fault, kind))
    words = fault.words or HTTPStatus(status).phrase
    said: dict[str, object] = {"error": words, "reason": getattr(fault, "reason", reason)}
    problems = fault.problems if isinstance(fault, InvalidError | ChangedError) else ()
    if problems or isinstance(fault, ConflictError):
        listed = [{"field": one.field, "words": one.words} for one in problems]
        said["problems"] = listed or [{"field": "", "words": words}]
    seconds = fault.seconds if isinstance(fault, SlowDownError) else WAIT
    return said, status, {"Retry-After": str(seconds)} if status in (429, 503) else {}


@bp.get("/token")
def token() -> dict[str, object]:
    """The token of a form for a page that came from nowhere, and what a new key has to sign."""
    who = desk.actor()
    return {
        "csrf": generate_csrf(),
        "person": {"id": who.person_id, "name": who.name},
        "nonce": phones.nonce_of(g.cookie),
    }


@bp.post("/phones")
def enrol_phone() -> Told:
    """Let a phone sign for the asker, who shows secret and factors."""
    sent = read_object(request.get_data())
    name, public, proof, secret, code, passkey = (
        str(sent.get(one) or "")
        for one in ("name", "public", "proof", "secret", "code", "passkey")
    )
    wanted = phones.EnrolPhone(name, public, proof, phones.nonce_of(g.cookie))
    pen = desk.prove(desk.actor().person_id, secret, Shown(code, passkey))
    with desk.acting(pen) as act:
        row = phones.enrol(act, wanted)
    return {"kid": row.id}, 201


@bp.put("/lessons/<record_id>")
def deliver(record_id: str) -> Response | Told:
    """Take one letter of a phone's outbox, once, however often it is sent."""
    if request.headers.get("X-Author") != desk.actor().person_id:
        raise PhoneError(
            "author", say("These words are somebody else's: sign in as who wrote them.")
        )
    letter = read_letter(record_id, request.headers, request.get_data())
    try:
        with desk.acting() as act:
            row = delivering.taken(act, letter)
            again = row is not None
            if again:
                delivering.count(act, letter)
            row = row or _take(act, letter)
    except StaleError as fault:
        return _stale(letter, fault.words), 412
    answer = Response(row.answer, row.status, mimetype="application/json")
    if again:
        answer.headers["Idempotent-Replay"] = "true"
    return answer


def _take(act: Act, letter: Letter) -> Delivery:
    if letter.seal is not None:
        proving.check_pace(act, desk.office().settings.signatures)
    record = delivering.deliver(act, letter)
    said = {
        "record": record.id,
        "version": record.version,
        "state": record.state,
        "saved": formats.clock(record.saved_at, desk.zone()),
        "receipt": _receipt(act, record) if letter.seal else None,
    }
    return delivering.keep(act, letter, 200 if letter.version else 201, json.dumps(said))


def _receipt(act: Act, record: lessons.LessonRecord) -> dict[str, object]:
    """Where the statement stands, and the ledger's size and root with it."""
    end = ledger.tip(act.session)
    return {
        "seq": record.sequence,
        "statement": record.digest,
        "size": end.size,
        "root": end.nodes.root(end.size).hex(),
        "url": url_for("records.receipt", record_id=record.id),
    }


def _stale(letter: Letter, words: str) -> dict[str, object]:
    """Both versions, as the script shows them side by side."""
    with desk.reading() as act:
        record = lessons.lesson_record(
            act.session, act.actor, Action.RECORD_READ, letter.record_id
        )
        course = courses.course_of(act.session, record.revision_id)
        theirs = opening.card_of(record)
    found = card_differences(letter.card, theirs, course.task_by_code)
    return {
        "error": words,
        "version": record.version,
        "theirs": theirs.as_json(),
        "differences": [
            {"where": one.where, "mine": one.mine, "theirs": one.theirs} for one in found
        ],
        "state": record.state,
    }
