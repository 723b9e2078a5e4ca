"""Finding a student by name, among those whom the asker may read."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from gradebook.records.names import folded, is_meant
from gradebook.records.permissions import Actor
from gradebook.records.store.enrolments import readable
from gradebook.records.tables.people import Person
from gradebook.records.tables.training import Enrolment, Revision


@dataclass(frozen=True, slots=True)
class Found:
    """One enrolment of a student whose name fits.

    `course` is its title; `ended_on` is empty while in training.
    """

    enrolment_id: str
    name: str
    course: str
    enrolled_on: date
    ended_on: date | None


def find(session: Session, actor: Actor, typed: str) -> list[Found]:
    """The students meant, those in training first, by name; none for an empty text.

    Names are compared here and not by the database, since databases fold letters differently.
    """
    if not folded(typed).strip():
        return []
    query = (
        select(
            Enrolment.id,
            Person.name,
            Revision.title,
            Enrolment.enrolled_on,
            Enrolment.ended_on,
        )
        .join(Person, Person.id == Enrolment.student_id)
        .join(Revision, Revision.id == Enrolment.revision_id)
        .where(readable(actor))
    )
    meant = (Found(*row) for row in session.execute(query) if is_meant(row.name, typed))
    return sorted(meant, key=_order)


def _order(one: Found) -> tuple[bool, str, int]:
    return one.ended_on is not None, folded(one.name), -one.enrolled_on.toordinal()
