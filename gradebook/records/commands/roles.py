"""Roles: granted at once, or asked for by one person and confirmed by a second."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from gradebook.records import certificates
from gradebook.records.act import Act
from gradebook.records.certificates import SIGNING, Certificate, Term
from gradebook.records.commands import inviting, keyring, phones, sessions
from gradebook.records.faults import ConflictError, ForbiddenError, InvalidError, Problem
from gradebook.records.permissions import Action, Role
from gradebook.records.store import accounts, gate, people
from gradebook.records.tables.columns import new_id
from gradebook.records.tables.people import Person, RoleGrant, RoleRequest
from syllabus.saying import say

BY_TWO = SIGNING | {Role.ADMINISTRATOR}
"""Roles that take a second person's yes."""


@dataclass(frozen=True, slots=True)
class SetRoles:
    """What shall hold for a person from now on: roles, certificate, whether in use."""

    person_id: str
    roles: Sequence[Role]
    active: bool
    certificate: str = ""
    term: Term = Term.UNSTATED
    until: date | None = None


def set_roles(act: Act, command: SetRoles) -> list[Role]:
    """Revoke at once, grant at once or ask a second person; the roles that now wait.

    An administrator cannot lock out the last administrator.
    """
    gate.demand(act.actor, Action.PEOPLE_CHANGE)
    person = people.person(act.session, command.person_id)
    held, wanted = people.roles_of(person), frozenset(command.roles)
    _keep_certificate(act, person, command)
    _check(act, person, wanted, stays=command.active and Role.ADMINISTRATOR in wanted)
    if person.active != command.active:
        _open_or_close(act, person, active=command.active)
    for role in sorted(held - wanted):
        revoke(act, person, role)
    return add_roles(act, person, wanted - held)


def add_roles(act: Act, person: Person, wanted: frozenset[Role]) -> list[Role]:
    """Grant what one person may grant, ask for the rest; the roles that now wait."""
    for role in sorted(wanted - BY_TWO):
        grant(act, person, role)
        act.note(Action.PEOPLE_CHANGE, person.id, None, granted=role.value)
    asked = {Role(row.role) for row in accounts.requests(act.session, person.id)}
    waiting = sorted(wanted & BY_TWO - asked)
    for role in waiting:
        row = RoleRequest(
            person_id=person.id,
            role=role.value,
            asked_by=act.actor.person_id or None,
            asked_at=act.at,
        )
        act.session.add(row)
        act.note(Action.PEOPLE_CHANGE, person.id, None, asked_for=role.value)
    return waiting


def _check(act: Act, person: Person, wanted: frozenset[Role], *, stays: bool) -> None:
    others = [
        row
        for row in people.people_with(act.session, Role.ADMINISTRATOR)
        if row.id != person.id
    ]
    if Role.ADMINISTRATOR in people.roles_of(person) and not stays and not others:
        raise InvalidError(Problem("roles", say("Somebody must remain administrator.")))
    if problems := certificates.problems(people.certificate_of(person), wanted):
        raise InvalidError(*problems)


def _keep_certificate(act: Act, person: Person, command: SetRoles) -> None:
    """Keep the certificate as typed, and note what it says now where that is new."""
    before = people.certificate_of(person)
    after = Certificate(command.certificate.strip(), command.term, command.until)
    if before == after:
        return
    person.certificate, person.certificate_term = after.number, after.term.value
    person.certificate_until = after.until
    day = after.until.isoformat() if after.until else ""
    told = {"certificate": after.number, "term": after.term.value, "until": day}
    act.note(Action.PEOPLE_CHANGE, person.id, None, **told)


def grant(act: Act, person: Person, role: Role) -> None:
    """Let the person hold the role, unless they do already; their sessions end."""
    if role in people.roles_of(person):
        return
    row = RoleGrant(id=new_id(), person_id=person.id, role=role.value, granted_at=act.at)
    person.grants.append(row)
    act.session.flush()
    act.state_row("role.grant", None, row)
    sessions.end_all(act.session, person.id)


def revoke(act: Act, person: Person, role: Role) -> None:
    """The person no longer holds the role; their sessions end."""
    for row in person.grants:
        if row.role == role.value and row.revoked_at is None:
            row.revoked_at = act.at
            act.state_row("role.revoke", None, row)
    sessions.end_all(act.session, person.id)
    act.note(Action.PEOPLE_CHANGE, person.id, None, revoked=role.value)


def decide(act: Act, request_id: str, *, confirmed: bool) -> RoleRequest:
    """A second person's yes or no; whoever asked may take the question back."""
    row = accounts.request(act.session, request_id)
    person = people.person(act.session, row.person_id)
    taken_back = not confirmed and row.asked_by == act.actor.person_id
    gate.demand(act.actor, Action.PEOPLE_CONFIRM)
    if not accounts.is_second(act.actor, row) and not taken_back:
        raise ForbiddenError(
            say("A second person has to confirm: not who asked, not whom it is for.")
        )
    if row.decided_at is not None:
        raise ConflictError(say("This was decided meanwhile."))
    if confirmed and not person.active:
        raise ConflictError(say("The account of {person} is closed.", person=person.name))
    if confirmed and certificates.problems(people.certificate_of(person), [Role(row.role)]):
        raise ConflictError(
            say(
                "{person} has no certificate number, which this role needs.", person=person.name
            )
        )
    row.decided_by, row.decided_at, row.confirmed = act.actor.person_id, act.at, confirmed
    if confirmed:
        grant(act, person, Role(row.role))
    word = "confirmed" if confirmed else "declined"
    act.note(Action.PEOPLE_CONFIRM, person.id, None, **{word: row.role})
    return row


def _open_or_close(act: Act, person: Person, *, active: bool) -> None:
    """Open an account, or close it with all it had: sessions, devices, links, requests."""
    person.active = active
    act.note(Action.PEOPLE_CHANGE, person.id, None, active=active)
    if active:
        return
    keyring.revoke(act, person.id, "the account was closed")
    phones.revoke_all(act, person.id, "the account was closed")
    sessions.end_all(act.session, person.id)
    sessions.forget_devices(act.session, person.id)
    inviting.withdraw_all(act.session, person.id, act.at)
    for row in accounts.requests(act.session, person.id):
        row.decided_by, row.decided_at, row.confirmed = act.actor.person_id, act.at, False
