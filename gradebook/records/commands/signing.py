"""Signing a card: from draft to record, once, whole, with its statement in the ledger."""

from dataclasses import dataclass, replace

from gradebook.records import independence, rules
from gradebook.records.act import Act
from gradebook.records.card import Card
from gradebook.records.commands import needling
from gradebook.records.commands.opening import approval_for, card_of, setting_of
from gradebook.records.faults import ConflictError, InvalidError, Problem, StaleError
from gradebook.records.filling import fill
from gradebook.records.lifecycle import EFFECTIVE
from gradebook.records.permissions import Action
from gradebook.records.statement import record_of
from gradebook.records.store import checking, lessons, people
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.training import StageApproval
from gradebook.records.values import State
from syllabus.course import LessonKind
from syllabus.saying import say


@dataclass(frozen=True, slots=True)
class SignRecord:
    """Sign the card as it stood at `version`. The act's pen is the instructor's."""

    record_id: str
    version: int


def sign_record(act: Act, command: SignRecord) -> LessonRecord:
    """Turn a draft into a signed record; InvalidError says what still stands in the way."""
    record = lessons.lesson_record(
        act.session, act.actor, Action.RECORD_SIGN, command.record_id
    )
    if record.version != command.version or record.state != State.DRAFT:
        raise StaleError(say("The card changed after you reviewed it: review it again."))
    setting, card = setting_of(act.session, record, act), card_of(record)
    problems = (
        *rules.check_card(card, setting),
        *rules.check_finished(card, setting),
        *certificate_problems(record, card),
    )
    if problems:
        raise InvalidError(*problems)
    seal(act, record, card, setting)
    needling.take_in(act.session, record)
    facts = {"digest": record.digest, "device": act.mark(record.id)}
    act.note(Action.RECORD_SIGN, record.id, record.enrolment_id, **facts)
    return record


def certificate_problems(record: LessonRecord, card: Card) -> list[Problem]:
    """Why the instructor's certificate does not let them sign for the day flown."""
    flown = rules.read_day(card.flown_on)
    words = people.certificate_of(record.instructor).why_not(flown) if flown else ""
    return [Problem("flown_on", words)] if words else []


def seal(act: Act, record: LessonRecord, card: Card, setting: rules.Setting) -> None:
    """Write the rows of a checked card, state the whole, supersede what it amends."""
    record.state = State.SIGNED.value
    with act.session.no_autoflush:
        fill(record, card, setting)
        approval = _approval(act, record, setting)
        _state(act, record, approval)
    act.session.flush()  # a new record first: the rows that follow refer to it
    act.session.add_all([*record.grades, *record.errors, *record.readings])
    if approval is not None:
        approval.record_id = record.id


def _state(act: Act, record: LessonRecord, approval: StageApproval | None) -> None:
    """Put the statement in the ledger; its place and digest are the record's signature."""
    body = record_of(record)
    body["supersedes"] = _supersede(act, record)
    body["check"] = None if approval is None else approval.id
    if record.origin == "imported" and record.reason:
        body["not_independent"] = True
    entry = act.state("record.sign", record.enrolment_id, body)
    record.sequence, record.digest = entry.seq, entry.digest
    record.signed_at = entry.claimed_at


def _supersede(act: Act, record: LessonRecord) -> str | None:
    """Let an amendment take the place of what it amends; the digest of that text."""
    if record.supersedes_id is None:
        return None
    original = act.session.get(LessonRecord, record.supersedes_id)
    if original is None or original.state not in EFFECTIVE:
        raise ConflictError(say("The record was amended or made void meanwhile."))
    original.state = State.SUPERSEDED.value
    return original.digest


def _approval(act: Act, record: LessonRecord, setting: rules.Setting) -> StageApproval | None:
    """The approval that a stage check uses up; None where none is needed."""
    is_check = setting.lesson.kind is LessonKind.STAGE_CHECK
    if not is_check or record.supersedes_id or record.origin == "imported":
        return None
    approval = approval_for(act, record.enrolment, setting.lesson)
    if approval is None:
        raise ConflictError(say("The approval for this stage check was used or withdrawn."))
    _check_independence(act, record, approval)
    return approval


def _check_independence(act: Act, record: LessonRecord, approval: StageApproval) -> None:
    """Judge once more: who teaches, recommended and holds a post may have changed since.

    The approval's reason excuses only what the chief instructor excepted with it.
    """
    facts = checking.facts_of(record.enrolment, approval.stage, record.instructor, act.zone)
    reason = approval.reason if approval.not_independent else ""
    verdict = independence.judge(replace(facts, reason=reason))
    if not facts.posts & independence.POSTS:
        words = say("Only a check instructor or chief instructor signs a stage check.")
        raise InvalidError(Problem("checker", words))
    if not verdict.allowed:
        words = say(
            "{verdict} The chief instructor has to assign the check anew.",
            verdict=verdict.words,
        )
        raise InvalidError(Problem("checker", words))
