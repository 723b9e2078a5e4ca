"""Who is ready for a stage check, on what evidence; recommending, approving, assigning."""

from dataclasses import dataclass
from functools import cached_property

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from gradebook.records import lifecycle
from gradebook.records.commands import checks
from gradebook.records.faults import InvalidError, SlowDownError, UnknownError
from gradebook.records.permissions import Action, Relation, Role, may
from gradebook.records.store import enrolments, gate, lessons, people, standing
from gradebook.records.store.enrolments import StageApproval
from gradebook.records.store.standing import Standing
from gradebook.records.store.together import together
from gradebook.records.values import Readiness
from gradebook.views import desk, places
from gradebook.views.answers import show_fault
from gradebook.views.forms.choices import choices
from gradebook.views.forms.deciding import ApproveForm, RecommendForm
from syllabus.course import Stage
from syllabus.saying import say

bp = Blueprint("readiness", __name__)
GROUPS = ("tasks", "hours", "events", "tests", "watch", "records")
ORDERS = ("nearest", "stalled", "safety", "name")


@dataclass(frozen=True)
class BoardRow:
    """One student on the board, for the check of the stage they are in."""

    state: Standing
    ready: Readiness

    @cached_property
    def n_critical(self) -> int:
        """Open safety-critical watch items."""
        return sum(item.is_critical for item in self.state.open_watch)

    @cached_property
    def asked(self) -> StageApproval | None:
        """The recommendation for this check that waits, approved or not."""
        return next(
            (
                one
                for one in self.state.enrolment.approvals
                if one.stage == self.state.stage.code and one.record_id is None
            ),
            None,
        )

    @cached_property
    def cells(self) -> tuple[tuple[int, int], ...]:
        """Requirements met and all, group by group."""
        groups = self.ready.by_group()
        found = [[verdict.met for verdict in groups.get(name, ())] for name in GROUPS]
        return tuple((sum(met), len(met)) for met in found)


def _sorted(rows: list[BoardRow], order: str) -> list[BoardRow]:
    if order == "stalled":
        return sorted(rows, key=lambda row: -(row.state.stall.days or 0))
    if order == "safety":
        return sorted(rows, key=lambda row: -row.n_critical)
    if order == "name":
        return rows
    return sorted(rows, key=lambda row: len(row.ready.missing) / len(row.ready.verdicts))


@bp.get("/readiness")
def board() -> str | Response:
    """The board: students by requirement, nearest to ready first unless asked otherwise."""
    if (chosen := places.recalled("order", "course")) is not None:
        return chosen
    order = request.args.get("order", "nearest")
    wanted = request.args.get("course", "")
    with desk.reading() as act:
        rows = enrolments.enrolments(act.session, act.actor, whole=True)
        states = standing.standings(act.session, rows, act.today)
    shown = [state for state in states if not wanted or state.course.code == wanted]
    table = [BoardRow(state, state.readiness(state.stage)) for state in shown]
    return render_template(
        "readiness/board.html",
        rows=_sorted(table, order),
        order=order if order in ORDERS else "nearest",
        groups=GROUPS,
        courses={state.course.code: state.course.title for state in states},
        wanted=wanted,
    )


def _stage(state: Standing, code: str) -> Stage:
    found = next((stage for stage in state.course.stages if stage.code == code), None)
    if found is None:
        raise UnknownError
    return found


def _student_page(
    enrolment_id: str, stage: str, form: ApproveForm, asking: RecommendForm | None = None
) -> str:
    with desk.reading() as act:
        row = enrolments.enrolment(act.session, act.actor, Action.STUDENT_READ, enrolment_id)
        state = standing.standing(act.session, row, act.today)
        posts = people.holding(Role.CHECK_INSTRUCTOR, Role.CHIEF)
        open_drafts = lessons.OPEN_DRAFTS.of(drafts_of=enrolment_id)
        amended = lessons.AMENDMENTS.of(amended_of=enrolment_id)
        checkers, named, drafts, amendments = together(
            act.session, posts, people.NAMED, open_drafts, amended
        )
        relations = gate.relations_to(act.actor, row)
    known = _stage(state, stage)
    open_row = next(
        (one for one in row.approvals if one.stage == stage and one.record_id is None), None
    )
    by_name = sorted(checkers, key=lambda one: one.name)
    form.checker.choices = choices((one.id, one.name) for one in by_name)
    past = [one for one in row.approvals if one.stage == stage and one.record_id]
    return render_template(
        "readiness/student.html",
        state=state,
        stage=known,
        ready=state.readiness(known),
        approval=open_row,
        past=[(one, lifecycle.as_it_stands(one.record_id or "", amendments)) for one in past],
        results={fact.record_id: fact for fact in state.history},
        names=people.by_id(named),
        form=form,
        asking=asking or RecommendForm(),
        drafts=sorted(drafts, key=lambda one: one.created_at),
        may_recommend=state.awaits(known)
        and may(desk.actor(), Action.CHECK_RECOMMEND, relations),
        may_approve=row.ended_on is None
        and may(desk.actor(), Action.CHECK_APPROVE, relations | {Relation.ANY}),
    )


@bp.get("/students/<enrolment_id>/readiness/<stage>")
def student(enrolment_id: str, stage: str) -> str:
    """Every requirement of one stage check, with its evidence."""
    return _student_page(enrolment_id, stage, ApproveForm())


@bp.post("/students/<enrolment_id>/readiness/<stage>/recommend")
def recommend(enrolment_id: str, stage: str) -> Response | tuple[str, int]:
    """Recommend the student for the check."""
    form = RecommendForm(request.form)
    command = checks.Recommend(enrolment_id, stage, form.reason.data or "")
    try:
        with desk.acting() as act:
            checks.recommend(act, command)
    except InvalidError as fault:
        status = show_fault(form, fault)
        return _student_page(enrolment_id, stage, ApproveForm(), form), status
    flash(say("Recommended. The chief instructor assigns who checks."))
    target = url_for("readiness.student", enrolment_id=enrolment_id, stage=stage)
    return redirect(target, 303)


@bp.post("/students/<enrolment_id>/readiness/<stage>/approve")
def approve(enrolment_id: str, stage: str) -> Response | tuple[str, int]:
    """Approve the check and assign an independent check instructor."""
    form = ApproveForm(request.form)
    command = checks.Approve(
        enrolment_id,
        form.approval.data or "",
        form.checker.data or "",
        form.reason.data or "",
    )
    try:
        pen = desk.prove(desk.actor().person_id, form.secret.data or "", form.shown())
        with desk.acting(pen) as act:
            checks.approve(act, command)
    except (InvalidError, SlowDownError) as fault:
        status = show_fault(form, fault)
        return _student_page(enrolment_id, stage, form), status
    flash(say("Approved and assigned."))
    target = url_for("readiness.student", enrolment_id=enrolment_id, stage=stage)
    return redirect(target, 303)
