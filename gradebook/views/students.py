"""Students: the list, one student's page, the folder of records, self-assessment."""

from dataclasses import dataclass
from datetime import date

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.datastructures import MultiDict
from werkzeug.wrappers import Response

from gradebook.records import carryover
from gradebook.records.act import Act
from gradebook.records.bars import bars as all_bars
from gradebook.records.commands import answering, enrolling
from gradebook.records.faults import InvalidError, SlowDownError, UnknownError
from gradebook.records.names import is_meant
from gradebook.records.permissions import Action, may
from gradebook.records.store import copies, enrolments, erasing, gate, lessons, people, standing
from gradebook.records.store.erasing import ErasureRequest
from gradebook.records.store.standing import Standing
from gradebook.records.store.together import together
from gradebook.records.worklist import worklist
from gradebook.views import desk, places
from gradebook.views.answers import show_fault
from gradebook.views.forms.deciding import EndForm
from gradebook.views.language import word
from syllabus.saying import say

bp = Blueprint("students", __name__)


def student(act: Act, action: Action, enrolment_id: str) -> Standing:
    """One student's standing, for this action."""
    row = enrolments.enrolment(act.session, act.actor, action, enrolment_id)
    return standing.standing(act.session, row, act.today)


@bp.get("/students")
def index() -> str | Response:
    """Every student this person may read."""
    if (chosen := places.recalled("q", "ended")) is not None:
        return chosen
    wanted = request.args.get("q", "").strip()
    ended = bool(request.args.get("ended"))
    with desk.reading() as act:
        rows = enrolments.enrolments(act.session, act.actor, current=not ended)
        found = [row for row in rows if is_meant(row.student.name, wanted)]
        states = standing.standings(act.session, found, act.today)
    n_all = enrolments.heads(rows)
    return render_template(
        "students/index.html", states=states, q=wanted, ended=ended, n_all=n_all
    )


@bp.get("/students/<enrolment_id>")
def page(enrolment_id: str) -> str:
    """What to work on, why, and what comes next."""
    with desk.reading() as act:
        state = student(act, Action.STUDENT_READ, enrolment_id)
        recent = lessons.all_of(act.session, enrolment_id)
        judged, names = together(act.session, lessons.judged(enrolment_id), people.NAMED)
        relations = gate.relations_to(act.actor, state.enrolment)
        asked = _erasure(act, state)
    bars = all_bars(state.course, state.history)
    listed = worklist(state.needle, state.suggested, state.weak)
    coming = state.next_lesson
    tasks = carryover.card_tasks(state.course, coming, state.history) if coming else ()
    attempt = carryover.attempt_number(coming, state.history) if coming else 0
    return render_template(
        "students/page.html",
        state=state,
        records=recent,
        names=people.by_id(names),
        tasks=tasks,
        attempt=attempt,
        own_draft=next(
            (row for row in lessons.drafts(recent) if row.instructor_id == act.actor.person_id),
            None,
        ),
        judged=[
            one
            for one in judged
            if coming and (one.lesson, one.attempt) == (coming.code, attempt)
        ],
        work=[item for item in listed if item.weak],
        suggested=[item for item in listed if item.pick],
        bars=bars,
        bars_by_task={bar.task.code: bar for bar in bars},
        last_words=_last_words(state),
        may_open=may(act.actor, Action.RECORD_OPEN, relations),
        may_check=_assigned(act, state),
        asked=asked,
    )


def _erasure(act: Act, state: Standing) -> ErasureRequest | None:
    """The request to erase this student's records that waits, for who may read of it."""
    row = state.enrolment
    if row.ended_on is None or not may(act.actor, Action.RETENTION_READ):
        return None
    return erasing.of_person(act.session, row.student_id)


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


@bp.get("/students/<enrolment_id>/records")
def folder(enrolment_id: str) -> str:
    """Every record of the student, newest first, superseded ones too."""
    with desk.reading() as act:
        state = student(act, Action.RECORD_READ, enrolment_id)
        records = lessons.records_of(act.session, enrolment_id)
        foreign = copies.foreign_of(act.session, enrolment_id)
    return render_template(
        "students/folder.html",
        state=state,
        records=records,
        foreign=foreign,
        may_end=state.enrolment.ended_on is None and may(act.actor, Action.END),
    )


@bp.route("/students/<enrolment_id>/end", methods=["GET", "POST"])
def end(enrolment_id: str) -> Response | str | tuple[str, int]:
    """End the enrolment; graduation is refused while something of the course is missing."""
    form, status = EndForm(request.form), 200
    with desk.reading() as act:
        state = student(act, Action.END, enrolment_id)
    if request.method == "POST":
        day = form.ended_on.data or act.today
        command = enrolling.End(enrolment_id, form.how.data, day, form.reason.data or "")
        try:
            pen = desk.prove(desk.actor().person_id, form.secret.data or "", form.shown())
            with desk.acting(pen) as act:
                enrolling.end_enrolment(act, command)
        except (InvalidError, SlowDownError) as fault:
            status = show_fault(form, fault)
        else:
            flash(say("The enrolment has ended: {how}.", how=word(command.how)))
            return redirect(url_for("students.folder", enrolment_id=enrolment_id), 303)
    page = render_template("students/end.html", state=state, form=form, lacking=state.lacking)
    return page, status


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
            flash(say("Your own grades are kept. They will stand beside your instructor's."))
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
