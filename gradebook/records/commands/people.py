"""People: a new account, its first rows, and the secret its owner keeps."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from gradebook.records import certificates, secrets
from gradebook.records.act import Act
from gradebook.records.certificates import Certificate, Term
from gradebook.records.commands import inviting, keyring, roles
from gradebook.records.commands.keyring import Unlocked
from gradebook.records.faults import InvalidError, Problem
from gradebook.records.permissions import Action, Role
from gradebook.records.store import gate, people
from gradebook.records.tables.people import Person
from gradebook.settings import HashCost
from syllabus.saying import say

EMAIL = re.compile(r"[^@\s]+@[^@\s]+\.[^@\s]+")


@dataclass(frozen=True, slots=True)
class AddPerson:
    """A new account, without a secret until its owner sets one through a link."""

    name: str
    email: str
    certificate: str
    roles: Sequence[Role]
    term: Term = Term.UNSTATED
    until: date | None = None

    @property
    def held(self) -> Certificate:
        """The certificate as typed."""
        return Certificate(self.certificate.strip(), self.term, self.until)


@dataclass(frozen=True, slots=True)
class Added:
    """A new account: its row, the token of its link, the roles that wait for a second yes."""

    person: Person
    token: str
    waiting: Sequence[Role]


def add_person(act: Act, command: AddPerson) -> Added:
    """A new account and its link; refused when the e-mail address is taken."""
    gate.demand(act.actor, Action.PEOPLE_CHANGE)
    problems = entry_problems(act.session, command)
    problems += certificates.problems(command.held, command.roles)
    if problems:
        raise InvalidError(*problems)
    row = new_person(act, command)
    act.note(Action.PEOPLE_CHANGE, row.id, None, added=row.name)
    waiting = roles.add_roles(act, row, frozenset(command.roles))
    return Added(row, inviting.invite(act, row.id), waiting)


def entry_problems(session: Session, command: AddPerson) -> list[Problem]:
    """What is wrong with the name or the address of a new account."""
    problems = []
    email = command.email.strip().lower()
    if not command.name.strip():
        problems.append(Problem("name", say("Enter the name.")))
    if not EMAIL.fullmatch(email):
        words = say("Enter an e-mail address, such as name@school.example.")
        problems.append(Problem("email", words))
    elif people.person_by_email(session, email):
        problems.append(Problem("email", say("Somebody already has this e-mail address.")))
    return problems


def new_person(act: Act, command: AddPerson, secret_hash: str = secrets.UNSET) -> Person:
    """The row of a new account that has no role yet; the caller has checked it."""
    row = Person(
        name=command.name.strip(),
        email=command.email.strip().lower(),
        certificate=command.held.number,
        certificate_term=command.term.value,
        certificate_until=command.until,
        secret_hash=secret_hash,
        created_at=act.at,
    )
    act.session.add(row)
    act.session.flush()
    return row


def change_secret(act: Act, new: str, opened: Unlocked | None, cost: HashCost) -> Person:
    """The actor's own new secret, which wraps their key from now on; their sessions end.

    `opened` is the key as the old secret opened it.
    """
    person = people.person(act.session, act.actor.person_id)
    inviting.set_secret(act, person, new, cost)
    if opened is None:
        keyring.revoke(act, person.id, "it did not open with the secret")
    else:
        with secrets.turn():
            keyring.rewrap(act.session, person.id, opened, new, cost)
    act.note(Action.ACCOUNT_KEEP, person.id, None, changed_own_secret=True)
    return person
