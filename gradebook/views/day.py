"""Home: each person's first question, by the roles they hold."""

from collections.abc import Sequence
from datetime import timedelta

from flask import Blueprint, g, redirect, render_template, url_for
from werkzeug.wrappers import Response

from gradebook.records.permissions import Relation, Role
from gradebook.records.store import (
    accounts,
    courses,
    enrolments,
    gate,
    jobs,
    lessons,
    people,
    standing,
)
from gradebook.records.store.enrolments import Enrolment
from gradebook.views import aside, desk, places

bp = Blueprint("day", __name__)
STAFF = frozenset({Role.INSTRUCTOR, Role.CHECK_INSTRUCTOR, Role.CHIEF})
DISAGREED_FOR = timedelta(days=30)
"""How long a student's disagreement stands on Today when the record is left as it is."""


@bp.get("/")
def home() -> str | Response:
    """The instructor's day, the student's own page, or what else the role is for."""
    roles = desk.actor().roles
    if roles & STAFF:
        return _instructors_day()
    if Role.STUDENT in roles:
        return _students_own()
    if Role.AUDITOR in roles:
        return redirect(url_for("audit.index"), 303)
    if Role.ADMINISTRATOR in roles:
        return redirect(url_for("people.index"), 303)
    with desk.reading() as act:
        asked = [one.role for one in accounts.requests(act.session, act.actor.person_id)]
    return render_template("day/empty.html", asked=asked)


def _instructors_day() -> str:
    with desk.reading() as act:
        rows = enrolments.enrolments(act.session, act.actor, whole=True)
        mine = [
            row
            for row in rows
            if gate.relations_to(act.actor, row) & {Relation.TEACHES, Relation.CHECKS}
        ]
        also = (people.ending(act.today), jobs.lately(act.actor, act.at))
        undecided, more = accounts.undecided_and(
            act.session, act.actor, act.at, *(also if aside.follows(act.actor) else ())
        )
        near, asked = more or ([], [])
        states = standing.standings(act.session, mine, act.today)
        ids = [row.id for row in rows]
        open_ends = lessons.open_ends(act.session, ids)
        drafts = lessons.drafts(open_ends)
        taught = {row.id for row in mine}
        me = act.actor.person_id
        waiting = [
            one
            for one in lessons.unacknowledged(open_ends)
            if one.enrolment_id in taught or one.instructor_id == me
        ]
        checks = [
            (state, approval)
            for state in states
            for approval in state.enrolment.approvals
            if approval.checker_id == act.actor.person_id and approval.record_id is None
        ]
        teaching = [
            state
            for state in states
            if Relation.TEACHES in gate.relations_to(act.actor, state.enrolment)
        ]
        chief = Role.CHIEF in act.actor.roles
        disagreed = [
            one
            for one in lessons.disagreed(open_ends, act.at - DISAGREED_FOR)
            if chief or one.enrolment_id in taught or one.instructor_id == me
        ]
        ending = people.certificates_by_name(near) if chief else {}
        published = bool(rows) or bool(courses.latest_revisions(act.session))
    own_certificate = people.certificate_of(g.person)
    if own_certificate.ends_soon(act.today):
        ending[g.person.name] = own_certificate
    awaiting = [(row, one) for row in rows for one in row.approvals if one.approved_by is None]
    own = [draft for draft in drafts if draft.instructor_id == act.actor.person_id]
    own.sort(key=lambda draft: draft.saved_at, reverse=True)
    others = [draft for draft in drafts if draft.instructor_id != act.actor.person_id]
    return render_template(
        "day/instructor.html",
        states=teaching,
        drafts=own,
        others=others if chief else [],
        waiting=waiting,
        disagreed=disagreed,
        checks=checks,
        chief=chief,
        checks_alone=act.actor.roles & STAFF == {Role.CHECK_INSTRUCTOR},
        n_school=len(rows),
        published=published,
        undecided=undecided,
        ending=ending,
        today=act.today,
        jobs=aside.lately(desk.actor(), asked),
        awaiting=awaiting if chief else [],
        last=_last(rows),
        open_lessons={(draft.enrolment_id, draft.lesson): draft.id for draft in own},
    )


def _last(rows: Sequence[Enrolment]) -> tuple[str, str] | None:
    """Whose page was looked at last, of those who may still be seen, and its address."""
    place = places.last()
    names = {row.id: row.student.name for row in rows}
    known = place is not None and place.enrolment_id in names
    return (names[place.enrolment_id], place.address) if place and known else None


def _students_own() -> str | Response:
    with desk.reading() as act:
        rows = enrolments.enrolments(act.session, act.actor, current=False)
        titles = {row.id: courses.course_of(act.session, row.revision_id).title for row in rows}
        question = jobs.lately(act.actor, act.at)
        asked = question.rows(act.session) if aside.follows(act.actor) else []
    found = aside.lately(desk.actor(), asked)
    if len(rows) == 1 and not found:
        return redirect(url_for("students.page", enrolment_id=rows[0].id), 303)
    return render_template("day/student.html", rows=rows, titles=titles, jobs=found)
