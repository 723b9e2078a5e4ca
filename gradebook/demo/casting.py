"""Accounts and signing keys for everybody of a scenario, all under the one printed secret."""

import os
from datetime import date, datetime, timedelta

from sqlalchemy.orm import Session

from gradebook.demo.scenario import Scenario, Staff
from gradebook.demo_accounts import SECRET
from gradebook.ledger.keys import derive
from gradebook.records import secrets
from gradebook.records.certificates import Term
from gradebook.records.commands import founding, keyring, roles
from gradebook.records.commands.people import AddPerson, new_person
from gradebook.records.pen import Pen, Signer, house_of
from gradebook.records.permissions import Role
from gradebook.records.tables.people import Person
from gradebook.settings import Settings


def accounts_of(
    session: Session, scenario: Scenario, settings: Settings, began: datetime
) -> dict[str, Person]:
    """An account for everybody, by e-mail. One hash serves all: the secret is printed."""
    secret_hash = secrets.hashed(SECRET, settings.hash_cost)
    server = founding.server_act(session, settings.seed, began)
    posts = [(one.name, one.email, one.certificate, one.roles) for one in scenario.staff]
    posts += [(one.name, one.email, "", (Role.STUDENT,)) for one in scenario.students]
    found = {}
    until = {one.email: _until(one, settings) for one in scenario.staff if one.experience}
    for name, email, certificate, held in posts:
        term = Term.EXPERIENCE if email in until else Term.UNSTATED
        wanted = AddPerson(name, email, certificate, held, term, until.get(email))
        found[email] = new_person(server, wanted, secret_hash)
        for role in held:
            roles.grant(server, found[email], role)
    return found


def _until(one: Staff, settings: Settings) -> date:
    """The last day of recent experience, counted from the day the demo is made."""
    return settings.now().date() + timedelta(days=one.experience)


def pens_of(
    session: Session, accounts: dict[str, Person], settings: Settings, at: datetime
) -> dict[str, Pen]:
    """A signing key for everybody, by e-mail; all are wrapped by the one printed secret."""
    cost, salt, house = settings.hash_cost, os.urandom(16), house_of(settings.seed)
    wrapping = derive(SECRET, salt, cost.passes, cost.memory_kib, cost.lanes)
    server = founding.server_act(session, settings.seed, at)
    pens = {}
    for email, person in accounts.items():
        key = keyring.enrol_key(server, person.id, salt, cost, wrapping)
        pens[email] = Pen(house, Signer(key.kid, key.seed, "secret"))
    return pens
