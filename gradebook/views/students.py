"""Students: the list, one student's page, one task, the folder of records, self-assessment."""

from dataclasses import dataclass
from datetime import date

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.datastructures import MultiDict
from werkzeug.wrappers import Response

from gradebook import formats
from gradebook.analytics.intervals import wilson
from gradebook.records import carryover, errorrates, progress
from gradebook.records.act import Act
from gradebook.records.commands import answering, checks
from gradebook.records.faults import InvalidError, UnknownError
from gradebook.records.permissions import Action, may
from gradebook.records.store import enrolments, gate, lessons, people, standing
from gradebook.records.store.standing import Standing
from gradebook.views import desk
from gradebook.views.forms.deciding import CloseWatchForm
from syllabus.course import Task

bp = Blueprint("students", __name__)


def student(act: Act, action: Action, enrolment_id: str) -> Standing:
    """One student's standing, for this action."""
    row = enrolments.enrolment(act.session, act.actor, action, enrolment_id)
    return standing.standing(act.session, row, act.today)


@bp.get("/students")
def index() -> str:
    """Every student this person may read."""
    wanted = request.args.get("q", "").strip().lower()
    ended = bool(request.args.get("ended"))
    with desk.reading() as act:
        rows = enrolments.enrolments(act.session, act.actor, current=not ended)
        found = [row for row in rows if wanted in row.student.name.lower()]
        states = standing.standings(act.session, found, act.today)
    return render_template(
        "students/index.html", states=states, q=wanted, ended=ended, n_all=len(rows)
    )


@bp.get("/students/<enrolment_id>")
def page(enrolment_id: str) -> str:
    """What to work on, why, and what comes next."""
    with desk.reading() as act:
        state = student(act, Action.STUDENT_READ, enrolment_id)
        recent = lessons.records_of(act.session, enrolment_id)
        judged = lessons.self_grades(act.session, enrolment_id)
        names = people.names(act.session)
        drafts = lessons.drafts(act.session, [enrolment_id])
        relations = gate.relations_to(act.actor, state.enrolment)
    bars = _bars(state)
    coming = state.next_lesson
    tasks = carryover.card_tasks(state.course, coming, state.history) if coming else ()
    attempt = carryover.attempt_number(coming, state.history) if coming else 0
    return render_template(
        "students/page.html",
        state=state,
        records=recent,
        names=names,
        tasks=tasks,
        attempt=attempt,
        own_draft=next(
            (row for row in drafts if row.instructor_id == act.actor.person_id), None
        ),
        judged=[
            one
            for one in judged
            if coming and (one.lesson, one.attempt) == (coming.code, attempt)
        ],
        bars=bars,
        bars_by_task={bar.task.code: bar for bar in bars},
        last_words=_last_words(state),
        may_open=may(act.actor, Action.RECORD_OPEN, relations),
        may_check=_assigned(act, state),
    )


def _assigned(act: Act, state: Standing) -> bool:
    """Whether this person is assigned the stage check that comes next."""
    return any(
        row.checker_id == act.actor.person_id
        and row.record_id is None
        and row.stage == state.stage.code
        for row in state.enrolment.approvals
    )


@dataclass(frozen=True, slots=True)
class Remark:
    """The last words an instructor wrote on a task."""

    remark: str
    instructor: str
    on: date


def _last_words(state: Standing) -> dict[str, Remark]:
    return {
        grade.task: Remark(grade.remark, fact.instructor, fact.flown_on)
        for fact in state.history
        for grade in fact.grades
        if grade.remark
    }


@dataclass(frozen=True, slots=True)
class Bar:
    """How often one task met its target: `met` of `n`, with the 95 % Wilson interval."""

    task: Task
    met: int
    n: int
    low: float
    high: float
    series: tuple[progress.SeriesPoint, ...]

    @property
    def points(self) -> list[tuple[str, int | None]]:
        """(day, rank) of every grade, oldest first."""
        return [(formats.day(point.on), point.rank) for point in self.series]

    @property
    def scale(self) -> list[tuple[int, str]]:
        """(rank, words) of the levels, lowest first."""
        return [(level.rank, level.words) for level in self.task.scale.levels]

    @property
    def standard(self) -> int:
        """Rank of the first level that meets the standard."""
        return self.task.scale.level(self.task.scale.standard).rank


def _bars(state: Standing) -> list[Bar]:
    return [bar for task in state.course.tasks if (bar := _bar(state, task)).n]


def _bar(state: Standing, task: Task) -> Bar:
    series = progress.task_series(state.history, task.code)
    counted = [point for point in series if point.rank is not None]
    met = sum(point.met is True for point in counted)
    low, high = wilson(met, len(counted))
    return Bar(task, met, len(counted), low=low, high=high, series=series)


@bp.get("/students/<enrolment_id>/tasks/<task>")
def task(enrolment_id: str, task: str) -> str:
    """How one task has gone, its standard, its errors, what next."""
    with desk.reading() as act:
        state = student(act, Action.STUDENT_READ, enrolment_id)
        names = people.names(act.session)
    known = state.course.task_by_code.get(task)
    if known is None:
        raise UnknownError
    rates = [rate for rate in errorrates.error_rates([state.history]) if rate.task == task]
    return render_template(
        "students/task.html",
        state=state,
        task=known,
        bar=_bar(state, known),
        rates=rates,
        items=[item for item in state.watch if item.task == task],
        carried=next((one for one in state.carried if one.task == task), None),
        names=names,
        may_close=may(
            act.actor, Action.WATCH_CLOSE, gate.relations_to(act.actor, state.enrolment)
        ),
    )


@bp.get("/students/<enrolment_id>/records")
def folder(enrolment_id: str) -> str:
    """Every record of the student, newest first, superseded ones too."""
    with desk.reading() as act:
        state = student(act, Action.RECORD_READ, enrolment_id)
        records = lessons.records_of(act.session, enrolment_id)
    return render_template("students/folder.html", state=state, records=records)


@bp.post("/students/<enrolment_id>/watch")
def close_watch(enrolment_id: str) -> Response | tuple[str, int]:
    """Sign the decision to close a watch item."""
    form = CloseWatchForm(request.form)
    command = checks.CloseWatch(
        enrolment_id, form.task.data or "", form.error.data or "", form.reason.data or ""
    )
    try:
        desk.check_secret(desk.actor().person_id, form.secret.data or "")
        with desk.acting() as act:
            checks.close_watch(act, command)
    except InvalidError as fault:
        flash(str(fault), "error")
    else:
        flash("Your decision is on the record.")
    target = url_for("students.task", enrolment_id=enrolment_id, task=command.task or "-")
    return redirect(target, 303)


@bp.route("/students/<enrolment_id>/judge/<lesson>", methods=["GET", "POST"])
def judge(enrolment_id: str, lesson: str) -> Response | str | tuple[str, int]:
    """The student's own grades for the coming lesson, before the instructor's are seen."""
    with desk.reading() as act:
        state = student(act, Action.SELF_GRADE, enrolment_id)
        earlier = lessons.self_grades(act.session, enrolment_id)
    known = state.course.lesson_by_code.get(lesson)
    if known is None:
        raise UnknownError
    attempt = carryover.attempt_number(known, state.history)
    chosen = {
        one.task: one.level for one in earlier if (one.lesson, one.attempt) == (lesson, attempt)
    }
    tasks = carryover.card_tasks(state.course, known, state.history)
    problems: tuple[str, ...] = ()
    if request.method == "POST":
        chosen = _chosen(request.form)
        try:
            with desk.acting() as act:
                answering.judge_self(act, answering.JudgeSelf(enrolment_id, lesson, chosen))
        except InvalidError as fault:
            problems = tuple(problem.words for problem in fault.problems)
        else:
            flash("Your own grades are kept. They will stand beside your instructor's.")
            return redirect(url_for("students.page", enrolment_id=enrolment_id), 303)
    page = render_template(
        "students/judge.html",
        state=state,
        lesson=known,
        tasks=tasks,
        chosen=chosen,
        problems=problems,
    )
    return (page, 422) if problems else page


def _chosen(sent: MultiDict[str, str]) -> dict[str, str]:
    return {
        name.removeprefix("level-"): value
        for name, value in sent.items()
        if name.startswith("level-") and value
    }
