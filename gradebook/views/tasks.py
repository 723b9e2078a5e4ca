"""One student's one task: where the needle stands and why, its errors, its proof."""

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from gradebook.charts import cohort as cohorts
from gradebook.charts.chart import Chart, chart_named
from gradebook.charts.task import task_charts
from gradebook.records import errorrates
from gradebook.records.act import Act
from gradebook.records.bars import bar
from gradebook.records.commands import checks
from gradebook.records.faults import InvalidError, SlowDownError, UnknownError
from gradebook.records.permissions import Action, may
from gradebook.records.store import cohort as everybody
from gradebook.records.store import enrolments, gate, people, standing
from gradebook.records.store.standing import Standing
from gradebook.views import desk, tables
from gradebook.views.answers import show_fault
from gradebook.views.forms.deciding import CloseWatchForm
from syllabus.course import Task
from syllabus.saying import say

bp = Blueprint("tasks", __name__, url_prefix="/students/<enrolment_id>")


def _student(act: Act, enrolment_id: str) -> Standing:
    row = enrolments.enrolment(act.session, act.actor, Action.STUDENT_READ, enrolment_id)
    return standing.standing(act.session, row, act.today)


def _task(state: Standing, code: str) -> Task:
    known = state.course.task_by_code.get(code)
    if known is None:
        raise UnknownError
    return known


@bp.get("/tasks/<task>")
def page(enrolment_id: str, task: str) -> str:
    """How one task has gone, its standard, its errors, what next."""
    return _page(enrolment_id, task)


def _page(enrolment_id: str, task: str, refused: CloseWatchForm | None = None) -> str:
    with desk.reading() as act:
        state = _student(act, enrolment_id)
        names = people.names(act.session)
    known = _task(state, task)
    rates = [rate for rate in errorrates.error_rates([state.history]) if rate.task == task]
    items = [item for item in state.watch if item.task == task]
    return render_template(
        "tasks/page.html",
        state=state,
        task=known,
        bar=bar(state.history, known),
        outlook=state.needle.outlooks.get(task),
        prospect=state.needle.prospect(task),
        charts=task_charts(state, known),
        rates=rates,
        items=items,
        forms={item.error: _form(task, item.error, refused) for item in items},
        carried=next((one for one in state.carried if one.task == task), None),
        names=names,
        may_close=may(
            act.actor, Action.WATCH_CLOSE, gate.relations_to(act.actor, state.enrolment)
        ),
    )


def _form(task: str, error: str, refused: CloseWatchForm | None) -> CloseWatchForm:
    """The form that closes one item: the one that was refused, or a new one."""
    if refused is not None and refused.error.data == error:
        return refused.named()
    return CloseWatchForm(task=task, error=error).named()


@bp.post("/watch")
def close_watch(enrolment_id: str) -> AnyResponse | tuple[str, int]:
    """Sign the decision to close a watch item."""
    form = CloseWatchForm(request.form)
    command = checks.CloseWatch(
        enrolment_id, form.task.data or "", form.error.data or "", form.reason.data or ""
    )
    try:
        pen = desk.prove(desk.actor().person_id, form.secret.data or "", form.shown())
        with desk.acting(pen) as act:
            checks.close_watch(act, command)
    except (InvalidError, SlowDownError) as fault:
        status = show_fault(form, fault)
        return _page(enrolment_id, command.task, form), status
    flash(say("Your decision is on the record."))
    target = url_for("tasks.page", enrolment_id=enrolment_id, task=command.task or "-")
    return redirect(target, 303)


def _chart(enrolment_id: str, task: str, key: str) -> tuple[Standing, Task, Chart]:
    with desk.reading() as act:
        state = _student(act, enrolment_id)
    known = _task(state, task)
    found = chart_named(task_charts(state, known), key)
    if found is None:
        raise UnknownError
    return state, known, found


@bp.get("/tasks/<task>/charts/<key>")
def explore(enrolment_id: str, task: str, key: str) -> str:
    """One chart of the task, large, with its numbers."""
    state, known, found = _chart(enrolment_id, task, key)
    trail = [
        (state.enrolment.student.name, url_for("students.page", enrolment_id=enrolment_id)),
        (known.title, url_for("tasks.page", enrolment_id=enrolment_id, task=task)),
    ]
    address = url_for("tasks.csv", enrolment_id=enrolment_id, task=task, key=key)
    return tables.explore(found, trail, address)


@bp.get("/tasks/<task>/charts/<key>.csv")
def csv(enrolment_id: str, task: str, key: str) -> Response:
    """The numbers of one chart of the task."""
    return tables.csv(_chart(enrolment_id, task, key)[2])


def _cohort(enrolment_id: str) -> tuple[Standing, Chart]:
    with desk.reading() as act:
        state = _student(act, enrolment_id)
        among = everybody.cohort(act.session, state.course.code, state.parameters)
    return state, cohorts.cohort(enrolment_id, state.enrolment.student_id, among)


@bp.get("/cohort")
def cohort(enrolment_id: str) -> str:
    """The student beside the others of the course, nobody else named."""
    state, found = _cohort(enrolment_id)
    return render_template("tasks/cohort.html", state=state, one=found)


@bp.get("/cohort/explore")
def cohort_explore(enrolment_id: str) -> str:
    """The same, large."""
    state, found = _cohort(enrolment_id)
    trail = [
        (state.enrolment.student.name, url_for("students.page", enrolment_id=enrolment_id)),
        (say("Beside the others"), url_for("tasks.cohort", enrolment_id=enrolment_id)),
    ]
    address = url_for("tasks.cohort_csv", enrolment_id=enrolment_id)
    return tables.explore(found, trail, address)


@bp.get("/cohort.csv")
def cohort_csv(enrolment_id: str) -> Response:
    """The numbers of the comparison."""
    return tables.csv(_cohort(enrolment_id)[1])
