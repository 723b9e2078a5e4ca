"""Asking for a student's records to be erased, and the second person's yes or no.

Nothing is erased here: `carrying` does what two people signed, by the role that owns the
schema.
"""

import unicodedata
from dataclasses import dataclass

from gradebook.ledger.erasures import ASK, CONFIRM, WITHDRAW
from gradebook.records.act import Act
from gradebook.records.faults import ConflictError, ForbiddenError, InvalidError, Problem
from gradebook.records.permissions import Action
from gradebook.records.retention import LEAST_YEARS, MOST_YEARS, fault_in
from gradebook.records.store import erasing, gate, people
from gradebook.records.store.erasing import ErasureRequest, Subject
from gradebook.records.tables.columns import new_id
from syllabus.saying import dated, say

SHORTEST = 10
"""So many characters name a legal basis at least."""


@dataclass(frozen=True, slots=True)
class Ask:
    """Whose records, on which legal basis; `early`: although retention has not run."""

    person_id: str
    basis: str
    early: bool = False


def set_years(act: Act, years: int) -> None:
    """Keep records for so many years; InvalidError at `years` below what the law wants."""
    gate.demand(act.actor, Action.RETENTION_SET)
    if fault_in(years):
        words = say("Enter {least} to {most} years.", least=LEAST_YEARS, most=MOST_YEARS)
        raise InvalidError(Problem("years", words))
    row = people.school(act.session)
    if row is not None and row.retention_years != years:
        act.note(Action.RETENTION_SET, None, None, years=years, before=row.retention_years)
        row.retention_years = years


def ask(act: Act, command: Ask) -> ErasureRequest:
    """Ask for a student's records to be erased; a second person has to confirm it.

    InvalidError at `basis` or `early`, ConflictError while an enrolment goes on or another
    request waits.
    """
    gate.demand(act.actor, Action.ERASURE_ASK)
    who = erasing.subject(act.session, command.person_id)
    held = erasing.kept_of(act.session, who.person_id, act.zone)
    if held.running:
        raise ConflictError(
            say("{name} is still enrolled: end the enrolment first.", name=who.name)
        )
    if erasing.of_person(act.session, who.person_id) is not None:
        raise ConflictError(say("Erasing these records has been asked for already."))
    school = people.school(act.session)
    years = school.retention_years if school else LEAST_YEARS
    early, basis = not held.is_past(years, act.today), command.basis.strip()
    problems = _basis_problems(who, basis)
    if early and not command.early:
        through = dated(held.through(years))
        words = say(
            "Retention runs through {day}. Before that it takes a law that asks for it.",
            day=through,
        )
        problems.append(Problem("early", words))
    if problems:
        raise InvalidError(*problems)
    return _asked(act, who, basis, early=early)


def _basis_problems(who: Subject, basis: str) -> list[Problem]:
    """The basis stays in the ledger for good: it must not say what it is there to erase."""
    if len(basis) < SHORTEST:
        words = say("Name the legal basis, such as the rule and why it applies.")
        return [Problem("basis", words)]
    said = _folded(basis)
    parts = [part for part in (*_folded(who.name).split(), who.email) if len(part) > 2]
    if any(part in said for part in parts):
        return [
            Problem(
                "basis", say("Leave the student's name out: these words are kept for good.")
            )
        ]
    return []


def _folded(words: str) -> str:
    return " ".join(unicodedata.normalize("NFC", words).casefold().split())


def _asked(act: Act, who: Subject, basis: str, *, early: bool) -> ErasureRequest:
    name = new_id()
    told = {"account": who.account, "entries": len(who.entries), "early": early}
    body = {"erasure": name, "covers": who.covers, "basis": basis, **told}
    row = ErasureRequest(
        id=name,
        person_id=who.person_id,
        covers=who.covers,
        basis=basis,
        asked_by=act.actor.person_id,
        asked_at=act.at,
        asked_seq=_by_hand(act).state(ASK, None, body).seq,
        **told,
    )
    act.session.add(row)
    act.note(Action.ERASURE_ASK, name, None, entries=len(who.entries), early=early)
    return row


def _by_hand(act: Act) -> Act:
    """The same act; ConflictError where the actor's own key is not open."""
    if act.pen is None or act.pen.own is None:
        raise ConflictError(say("This has to be signed with your own key, which is not open."))
    return act


def may_confirm(act: Act, row: ErasureRequest) -> bool:
    """Whether the actor may be the second person: not who asked, nor whom it is about."""
    return act.actor.person_id not in (row.asked_by, row.person_id)


def confirm(act: Act, request_id: str, typed: str) -> ErasureRequest:
    """The second person's yes, by typing the student's name; InvalidError at `name`.

    ConflictError when it was decided, or when there is more to erase than was asked for.
    """
    gate.demand(act.actor, Action.ERASURE_CONFIRM)
    row = _undone(act, request_id)
    if not may_confirm(act, row):
        raise ForbiddenError(
            say("A second person has to confirm: not who asked, not whom it is for.")
        )
    if row.decided_at is not None:
        raise ConflictError(say("This was decided meanwhile."))
    who = erasing.subject(act.session, row.person_id or "")
    if _folded(typed) != _folded(who.name):
        raise InvalidError(Problem("name", say("This is not the student's name.")))
    if who.covers != row.covers:
        raise ConflictError(
            say("There are other entries than when this was asked for: call it off, ask anew.")
        )
    body = {"erasure": row.id, "asked": row.asked_seq, "covers": row.covers}
    row.decided_seq = _by_hand(act).state(CONFIRM, None, body).seq
    row.decided_by, row.decided_at, row.confirmed = act.actor.person_id, act.at, True
    act.note(Action.ERASURE_CONFIRM, row.id, None, confirmed=row.entries)
    return row


def withdraw(act: Act, request_id: str) -> ErasureRequest:
    """Call it off, by whoever may ask or confirm, until it is carried out."""
    gate.demand(act.actor, Action.ERASURE_CONFIRM)
    row = _undone(act, request_id)
    act.state(WITHDRAW, None, {"erasure": row.id})
    row.decided_by, row.decided_at, row.confirmed = act.actor.person_id, act.at, False
    act.note(Action.ERASURE_CONFIRM, row.id, None, called_off=True)
    return row


def _undone(act: Act, request_id: str) -> ErasureRequest:
    row = erasing.request(act.session, request_id)
    if not erasing.is_open(row):
        raise ConflictError(say("This was decided meanwhile."))
    return row
