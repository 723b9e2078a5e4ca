"""Stage checks, endorsements and watch items: what a chief and an instructor decide."""

from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from datetime import date

from gradebook.formats import count
from gradebook.records import independence, readiness
from gradebook.records.act import Act
from gradebook.records.faults import ConflictError, InvalidError, Problem, overlong
from gradebook.records.permissions import Action
from gradebook.records.store import checking, courses, enrolments, people, standing
from gradebook.records.tables.training import (
    CloseDecision,
    Enrolment,
    FiledEvent,
    StageApproval,
)
from syllabus.course import Stage
from syllabus.saying import say


@dataclass(frozen=True, slots=True)
class Recommend:
    """An instructor recommends a student for a stage check."""

    enrolment_id: str
    stage: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Approve:
    """The chief approves a recommended check and assigns who conducts it."""

    enrolment_id: str
    approval_id: str
    checker_id: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class FileEvent:
    """Put a document, endorsement, medical or test result on file."""

    enrolment_id: str
    kind: str
    code: str
    happened_on: date
    expires_on: date | None
    passed: bool
    words: str


@dataclass(frozen=True, slots=True)
class CloseWatch:
    """Decide to close a watch item, with the reason."""

    enrolment_id: str
    task: str
    error: str
    reason: str


def recommend(act: Act, command: Recommend) -> StageApproval:
    """Record the recommendation, with readiness as it stood and why it comes before that."""
    enrolment = enrolments.enrolment(
        act.session, act.actor, Action.CHECK_RECOMMEND, command.enrolment_id
    )
    _check_certificate(act, act.today)
    course = courses.course_of(act.session, enrolment.revision_id)
    stage = next((stage for stage in course.stages if stage.code == command.stage), None)
    if stage is None:
        raise InvalidError(Problem("stage", say("Choose a stage of this course.")))
    state = standing.standing(act.session, enrolment, act.today)
    _still_to_come(state, stage)
    ready, reason = state.readiness(stage), command.reason.strip()
    if problems := [*_unreasoned(ready, reason), *overlong(reason)]:
        raise InvalidError(*problems)
    row = StageApproval(
        enrolment_id=enrolment.id,
        stage=stage.code,
        recommended_by=act.actor.person_id,
        recommended_at=act.at,
        reason="",
        snapshot=_snapshot(ready, reason),
    )
    act.session.add(row)
    act.session.flush()
    act.state_row("check.recommend", enrolment.id, row)
    facts = {"stage": stage.code, "ready": ready.ready, "reason": reason}
    act.note(Action.CHECK_RECOMMEND, row.id, enrolment.id, **facts)
    return row


def _still_to_come(state: standing.Standing, stage: Stage) -> None:
    """ConflictError when the check of this stage cannot be recommended, or has been."""
    open_rows = (row for row in state.enrolment.approvals if row.record_id is None)
    enrolments.check_current(state.enrolment)
    if any(row.stage == stage.code for row in open_rows):
        raise ConflictError(say("This stage check has already been recommended."))
    if state.passed(stage):
        raise ConflictError(say("This stage check has been passed."))


def _unreasoned(ready: readiness.Readiness, reason: str) -> Iterator[Problem]:
    if ready.missing and not reason:
        unmet = count(len(ready.missing), "requirement")
        words = say("{requirements} not met: recommending needs a reason.", requirements=unmet)
        yield Problem("reason", words)


def _check_certificate(act: Act, on: date) -> None:
    """InvalidError when the actor's instructor certificate does not hold on this day."""
    holder = people.person(act.session, act.actor.person_id)
    if words := people.certificate_of(holder).why_not(on):
        raise InvalidError(Problem("", words))


def _snapshot(ready: readiness.Readiness, reason: str) -> dict[str, object]:
    missing = [f"{verdict.words}: {verdict.have}" for verdict in ready.missing]
    why = {"reason": reason} if reason else {}
    return {"ready": ready.ready, "missing": missing, **why}


def approve(act: Act, command: Approve) -> StageApproval:
    """Approve the check; refused, with the rule named, when the checker is not independent."""
    enrolment = enrolments.enrolment(
        act.session, act.actor, Action.CHECK_APPROVE, command.enrolment_id
    )
    enrolments.check_current(enrolment)
    row = next((row for row in enrolment.approvals if row.id == command.approval_id), None)
    if row is None or row.record_id is not None:
        raise ConflictError(say("This recommendation has been used or is not there any more."))
    reason = command.reason.strip()
    verdict, problems = _judged(act, enrolment, row, command.checker_id, reason)
    problems += [*_ready_problems(act, enrolment, row, reason), *overlong(reason)]
    if problems or verdict is None:
        raise InvalidError(*problems)
    row.approved_by, row.approved_at = act.actor.person_id, act.at
    row.checker_id, row.reason = command.checker_id, reason
    row.not_independent = not verdict.independent
    act.state_row("check.approve", enrolment.id, row)
    act.note(
        Action.CHECK_APPROVE,
        row.id,
        enrolment.id,
        stage=row.stage,
        checker=command.checker_id,
        reason=reason,
        not_independent=row.not_independent,
    )
    return row


def _ready_problems(
    act: Act, enrolment: Enrolment, row: StageApproval, reason: str
) -> list[Problem]:
    """A check before every requirement is met needs the chief's typed reason."""
    state = standing.standing(act.session, enrolment, act.today)
    stage = next(stage for stage in state.course.stages if stage.code == row.stage)
    missing = len(state.readiness(stage).missing)
    if not missing or reason:
        return []
    unmet = count(missing, "requirement")
    words = say("{requirements} not met: approving needs a reason.", requirements=unmet)
    return [Problem("reason", words)]


def _judged(
    act: Act, enrolment: Enrolment, row: StageApproval, checker_id: str, reason: str
) -> tuple[independence.Verdict | None, list[Problem]]:
    """Independence binds everybody; the rule knows who may be excepted for a reason."""
    checkers = people.people_with(act.session, *independence.POSTS)
    checker = next((person for person in checkers if person.id == checker_id), None)
    if checker is None:
        return None, [Problem("checker", say("Choose a check instructor or chief instructor."))]
    facts = checking.facts_of(enrolment, row.stage, checker, act.zone)
    verdict = independence.judge(replace(facts, reason=reason))
    return verdict, [] if verdict.allowed else [Problem("checker", verdict.words)]


def file_event(act: Act, command: FileEvent) -> FiledEvent:
    """Put it on file; the date may not lie in the future."""
    enrolment = enrolments.enrolment(
        act.session, act.actor, Action.EVENT_FILE, command.enrolment_id
    )
    if command.kind == "endorsement":
        _check_certificate(act, command.happened_on)
    problems = []
    if command.happened_on > act.today:
        problems.append(Problem("happened_on", say("This date is in the future.")))
    if command.expires_on is not None and command.expires_on < command.happened_on:
        problems.append(Problem("expires_on", say("It cannot expire before it was given.")))
    if problems:
        raise InvalidError(*problems)
    row = FiledEvent(**asdict(command), filed_by=act.actor.person_id, filed_at=act.at)
    act.session.add(row)
    act.session.flush()
    act.state_row("event.file", enrolment.id, row)
    act.note(Action.EVENT_FILE, row.id, enrolment.id, code=command.code, passed=command.passed)
    return row


def close_watch(act: Act, command: CloseWatch) -> None:
    """Record the decision; the item closes by it (safety-critical: with evidence too)."""
    enrolment = enrolments.enrolment(
        act.session, act.actor, Action.WATCH_CLOSE, command.enrolment_id
    )
    reason = command.reason.strip()
    if not reason:
        raise InvalidError(Problem("reason", say("Say why this item may be closed.")))
    if problems := overlong(reason):
        raise InvalidError(*problems)
    state = standing.standing(act.session, enrolment, act.today)
    pair = (command.task, command.error)
    if pair not in {(item.task, item.error) for item in state.open_watch}:
        raise ConflictError(say("This watch item is not open any more."))
    row = CloseDecision(
        enrolment_id=enrolment.id,
        task=command.task,
        error=command.error,
        decided_by=act.actor.person_id,
        decided_on=act.today,
        decided_at=act.at,
        reason=reason,
    )
    act.session.add(row)
    act.session.flush()
    act.state_row("watch.close", enrolment.id, row)
    act.note(Action.WATCH_CLOSE, None, enrolment.id, task=command.task, error=command.error)
