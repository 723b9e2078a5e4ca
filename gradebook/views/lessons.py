"""The grading card: choose a lesson, open its card, save every tap."""

from collections import defaultdict
from dataclasses import replace
from datetime import date

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook import formats
from gradebook.records import rules
from gradebook.records.card import Card, card_differences
from gradebook.records.commands import opening, restoring
from gradebook.records.faults import InvalidError, Problem, StaleError
from gradebook.records.permissions import Action
from gradebook.records.store import enrolments, lessons, standing
from gradebook.replies import wants_json
from gradebook.views import desk
from gradebook.views.answers import read_version, show_problems
from gradebook.views.forms.card import CardForm, card_form, read_card
from gradebook.views.sheet import Loaded, Sheet, load, sheet_of, total_words
from syllabus.saying import joined, say

bp = Blueprint("lessons", __name__)


@bp.get("/students/<enrolment_id>/lessons/new")
def choose(enrolment_id: str) -> str:
    """Every lesson of the course, the next one first, with the days it was flown."""
    with desk.reading() as act:
        row = enrolments.enrolment(act.session, act.actor, Action.RECORD_OPEN, enrolment_id)
        state = standing.standing(act.session, row, act.today)
    flown = defaultdict[str, list[date]](list)
    for fact in state.history:
        flown[fact.lesson].append(fact.flown_on)
    return render_template("lessons/choose.html", state=state, enrolment=row, flown=flown)


@bp.post("/students/<enrolment_id>/lessons")
def open_card(enrolment_id: str) -> Response:
    """Open the card of a lesson (the one already open, if there is one)."""
    with desk.acting() as act:
        command = opening.OpenRecord(enrolment_id, request.form.get("lesson", ""))
        record = opening.open_record(act, command)
    return redirect(url_for("lessons.card", record_id=record.id), 303)


@bp.get("/lessons/<record_id>")
def card(record_id: str) -> str | Response:
    """The card of a draft; a signed record shows as the record it is."""
    with desk.reading() as act:
        record = lessons.lesson_record(act.session, act.actor, Action.RECORD_READ, record_id)
        if record.state != "draft":
            return redirect(url_for("records.page", record_id=record_id), 303)
        loaded = load(act, record_id, Action.RECORD_GRADE)
    sheet = sheet_of(loaded)
    form = card_form(loaded.setting, loaded.card)
    form.version.data = str(loaded.record.version)
    show_problems(form, rules.check_card(loaded.card, loaded.setting))
    return render_template(
        "lessons/card.html", form=form, sheet=sheet, total=total_words(sheet)
    )


@bp.post("/lessons/<record_id>")
def save(record_id: str) -> Response | str | tuple[str | dict[str, object], int]:
    """Keep the card as typed. `do` says what comes next: review, flow, or grade the rest."""
    with desk.reading() as act:
        loaded = load(act, record_id, Action.RECORD_GRADE)
    form = card_form(loaded.setting, loaded.card, request.form)
    sent = read_card(form, loaded.setting, loaded.card)
    wanted = request.form.get("do", "")
    if wanted == "rest":
        sent = opening.grade_rest(sent, loaded.setting)
    elif wanted == "unset":
        sent = opening.ungrade_rest(sent)
    try:
        with desk.acting() as act:
            saved = opening.save_card(act, _command(record_id, form, sent))
            sheet = sheet_of(replace(loaded, record=saved, card=sent))
    except StaleError:
        return _conflict(record_id, form, sent)
    except InvalidError as fault:
        return _refused(loaded, form, sent, fault)
    if wants_json():
        return _saved_json(sheet, loaded.setting, sent), 200
    return redirect(_next(record_id, wanted), 303)


def _command(record_id: str, form: CardForm, card: Card) -> opening.SaveCard:
    if not form.validate():
        words = [
            Problem(name, joined(" ", errors)) for name, errors in form.errors.items() if name
        ]
        raise InvalidError(*words)
    version = read_version(form.version.data or "")
    if version is None:
        raise InvalidError(Problem("", say("Reload the card: its version is missing.")))
    return opening.SaveCard(record_id, version, card)


def _next(record_id: str, wanted: str) -> str:
    endpoints = {"review": "signing.review", "flow": "flow.run"}
    anchor = "after-tasks" if wanted in ("rest", "unset") else None
    return url_for(endpoints.get(wanted, "lessons.card"), record_id=record_id, _anchor=anchor)


def _saved_json(sheet: Sheet, setting: rules.Setting, card: Card) -> dict[str, object]:
    """What the script needs to show: version, times, problems, verdicts."""
    problems = rules.check_card(card, setting)
    return {
        "version": sheet.record.version,
        "saved": formats.clock(sheet.record.saved_at, desk.zone()),
        "total": total_words(sheet),
        "problems": [{"field": one.field, "words": one.words} for one in problems],
        "verdicts": [
            {"code": one.code, "readings": one.readings, "met": one.met, "words": one.words}
            for one in sheet.gauges.results
        ],
    }


def _conflict(
    record_id: str, form: CardForm, mine: Card
) -> tuple[str | dict[str, object], int]:
    """Both versions side by side; nothing is overwritten until the instructor says so."""
    with desk.reading() as act:
        loaded = load(act, record_id, Action.RECORD_GRADE)
    sheet = sheet_of(replace(loaded, card=mine))
    tasks = loaded.setting.course.task_by_code
    differences = card_differences(mine, loaded.card, tasks)
    if wants_json():
        words = say(
            "Saved in another tab meanwhile. Your words are here: press Save to compare."
        )
        theirs = {"version": loaded.record.version, "theirs": loaded.card.as_json()}
        return {"error": words, "conflict": True, **theirs}, 409
    form.version.data = str(loaded.record.version)
    page = render_template(
        "lessons/card.html",
        form=form,
        sheet=sheet,
        total=total_words(sheet),
        differences=differences,
    )
    return page, 409


def _refused(
    loaded: Loaded, form: CardForm, mine: Card, fault: InvalidError
) -> tuple[str | dict[str, object], int]:
    problems = [{"field": one.field, "words": one.words} for one in fault.problems]
    if wants_json():
        return {"error": say("Not saved: see the marked field."), "problems": problems}, 422
    sheet = sheet_of(replace(loaded, card=mine))
    return render_template(
        "lessons/card.html", form=form, sheet=sheet, total=total_words(sheet)
    ), 422


@bp.post("/lessons/<record_id>/discard")
def discard(record_id: str) -> Response:
    """Throw a draft away."""
    with desk.acting() as act:
        enrolment_id = opening.discard_record(act, record_id)
    words = say(
        "The draft is thrown away. For an hour you can bring it back; the audit trail keeps it."
    )
    flash(words, f"undo {url_for('lessons.restore', record_id=record_id)}")
    return redirect(url_for("students.page", enrolment_id=enrolment_id), 303)


@bp.post("/lessons/<record_id>/restore")
def restore(record_id: str) -> Response:
    """Bring a draft back that was thrown away by mistake."""
    with desk.acting() as act:
        restoring.restore_record(act, record_id)
    flash(say("The draft is back as it was."))
    return redirect(url_for("lessons.card", record_id=record_id), 303)
