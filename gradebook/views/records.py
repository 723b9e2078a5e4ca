"""One signed lesson record: what happened, signed by whom, and whether it is unaltered."""

from flask import Blueprint, g, redirect, render_template, url_for
from werkzeug.wrappers import Response

from gradebook.records import airframe
from gradebook.records.card import Difference, card_differences, card_from_json
from gradebook.records.commands import checkpointing
from gradebook.records.faults import UnknownError
from gradebook.records.independence import RULE
from gradebook.records.lifecycle import POSSIBLE
from gradebook.records.permissions import Action, may
from gradebook.records.store import checking, courses, gate, lessons, shown
from gradebook.records.store.enrolments import StageApproval
from gradebook.records.store.lessons import LessonRecord
from gradebook.records.values import State, Times
from gradebook.views import desk
from gradebook.views.forms.deciding import AcknowledgeForm
from syllabus.course import Course
from syllabus.limits import held_to

bp = Blueprint("records", __name__)


@bp.get("/records/<record_id>")
def page(record_id: str) -> str | Response:
    """The record with its proof, its amendments, and what may be done with it."""
    with desk.reading() as act:
        record = lessons.lesson_record(act.session, act.actor, Action.RECORD_READ, record_id)
        if record.state == State.DRAFT:
            return redirect(url_for("lessons.card", record_id=record_id), 303)
        course = courses.course_of(act.session, record.revision_id)
        original = None
        differences: list[Difference] = []
        if record.supersedes_id is not None:
            original = lessons.lesson_record(
                act.session, act.actor, Action.RECORD_READ, record.supersedes_id
            )
            differences = _differences(record.card, original.card, course)
        beside = shown.beside(act.session, record)
        exception = checking.exception_of(act.session, record)
        g.about = record.enrolment_id
        relations = gate.relations_to_record(act.actor, record)
    can = {
        action
        for action in (
            Action.RECORD_ACKNOWLEDGE,
            Action.RECORD_HAND_OVER,
            Action.RECORD_AMEND,
            Action.RECORD_VOID,
        )
        if may(desk.actor(), action, relations) and State(record.state) in POSSIBLE[action]
    }
    return render_template(
        "records/page.html",
        how=beside.how,
        record=record,
        course=course,
        lesson=course.lesson_by_code[record.lesson],
        times=Times(**(record.times or {})),
        proof=beside.proof,
        exception=exception,
        early=_excepted(record),
        independence_rule=RULE,
        aircraft=airframe.told(record.aircraft, course),
        reading_words={
            one.code: one.words for kind in course.aircraft for one in kind.readings
        },
        held_to=_held_to(record, course),
        amendments=beside.amendments,
        original=original,
        differences=differences,
        own={one.task: one.level for one in beside.judged if _same(one, record)},
        names=beside.names,
        may_acknowledge=Action.RECORD_ACKNOWLEDGE in can,
        may_amend=Action.RECORD_AMEND in can,
        may_void=Action.RECORD_VOID in can,
        may_audit=may(desk.actor(), Action.LEDGER_READ),
        hand_over=Action.RECORD_HAND_OVER in can
        and record.instructor_id == desk.actor().person_id,
        form=AcknowledgeForm(),
    )


def _held_to(record: LessonRecord, course: Course) -> dict[str, str]:
    """The limits each reading was held to, in words; empty where the type is not known."""
    kind = course.aircraft_type(airframe.type_of(record.aircraft))
    taken = [one.code for one in record.readings]
    return {code: held_to(kind, code, taken) if kind else "" for code in taken}


def _excepted(record: LessonRecord) -> StageApproval | None:
    """The approval of an independent check that the chief gave a reason for; mostly none."""
    flown = {record.id, record.supersedes_id}
    return next(
        (
            one
            for one in record.enrolment.approvals
            if one.record_id in flown and one.reason and not one.not_independent
        ),
        None,
    )


@bp.get("/records/<record_id>/receipt")
def receipt(record_id: str) -> Response:
    """What to keep of a record: its entry, its way to the root, and the root signed now."""
    with desk.reading() as act:
        record = lessons.lesson_record(act.session, act.actor, Action.RECORD_READ, record_id)
        if record.sequence is None:
            raise UnknownError
        text = checkpointing.receipt(act.session, desk.house(), record.sequence)
    headers = {"Content-Disposition": f"attachment; filename=entry-{record.sequence}.receipt"}
    return Response(text, mimetype="application/json", headers=headers)


def _same(judged: object, record: object) -> bool:
    pair = ("lesson", "attempt")
    return all(getattr(judged, name) == getattr(record, name) for name in pair)


def _differences(
    mine: dict[str, object], theirs: dict[str, object], course: Course
) -> list[Difference]:
    pair = card_from_json(mine), card_from_json(theirs)
    return card_differences(*pair, course.task_by_code)
