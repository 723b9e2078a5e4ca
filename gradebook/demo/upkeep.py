"""What a school does over the years beside teaching: it erases old records, changes its key."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, time, timedelta

from gradebook.demo.scenario import Student
from gradebook.demo.training import Cast
from gradebook.records.commands import carrying, erasing, rekeying
from gradebook.records.pen import house_of
from gradebook.records.permissions import Role
from gradebook.records.tables.people import Person

ROTATED = 150
"""So many days ago the school changed its key in order."""
BASIS = "Retention of five years has run; 14 CFR 141.101(d) and 61.189(c) are met."


def erase(cast: Cast, student: Student, seed: bytes) -> Iterator[datetime]:
    """The chief asks, the administrator confirms, the server carries it out the next day.

    Gives the moment of the next thing before it is done; `seed` is the school's key then.
    """
    at = cast.morning(student.erased)
    yield at
    request = _ask(cast, student, at)
    at = cast.morning(student.erased, time(15, 40))
    yield at
    second = cast.act(cast.holder(Role.ADMINISTRATOR), at)
    erasing.confirm(second, request, student.name)
    at += timedelta(hours=5)
    yield at
    people = {email: one.id for email, one in cast.accounts.items() if email != student.email}
    carrying.carry_out_in(cast.session, carrying.House(seed), request, at)
    del cast.accounts[student.email]
    for email, person_id in people.items():
        cast.accounts[email] = cast.session.get_one(Person, person_id)


def let_wait(cast: Cast, student: Student) -> Iterator[datetime]:
    """The chief asks; nobody has confirmed it yet."""
    at = cast.morning(student.asked)
    yield at
    _ask(cast, student, at)


def _ask(cast: Cast, student: Student, at: datetime) -> str:
    """The chief asks for a student's records to be erased; the request's id."""
    person = cast.accounts[student.email].id
    return erasing.ask(cast.act(cast.chief, at), erasing.Ask(person, BASIS)).id


def change_key(cast: Cast, old: bytes, new: bytes) -> Iterator[datetime]:
    """A new key of the school follows the old one, both signing."""
    at = cast.morning(ROTATED)
    yield at
    rekeying.rotate(cast.session, old, new, at, None)
    for email, pen in cast.pens.items():
        cast.pens[email] = replace(pen, house=house_of(new))
