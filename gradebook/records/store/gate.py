"""The gate every loader passes: 404 for those who may not know, 403 for those who may look."""

from gradebook.records.faults import ForbiddenError, UnknownError
from gradebook.records.permissions import Action, Actor, Relation, may
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.training import Enrolment
from syllabus.saying import say


def authorise(
    actor: Actor, action: Action, relations: frozenset[Relation], reading: Action
) -> None:
    """Return when the act is allowed; else ForbiddenError if `reading` is, or UnknownError."""
    if may(actor, action, relations):
        return
    if may(actor, reading, relations):
        raise ForbiddenError(say("Your role does not allow {action}.", action=action.value))
    raise UnknownError


def demand(actor: Actor, action: Action) -> None:
    """The gate for acts without an object: ForbiddenError unless allowed for anyone's."""
    if not may(actor, action):
        raise ForbiddenError(say("Your role does not allow {action}.", action=action.value))


def relations_to(actor: Actor, enrolment: Enrolment) -> frozenset[Relation]:
    """How the actor stands to this enrolment now."""
    found = set()
    if enrolment.student_id == actor.person_id:
        found.add(Relation.SELF)
    if any(
        row.person_id == actor.person_id and row.until is None for row in enrolment.teaching
    ):
        found.add(Relation.TEACHES)
    if any(row.checker_id == actor.person_id for row in enrolment.approvals):
        found.add(Relation.CHECKS)
    return frozenset(found)


def relations_to_record(actor: Actor, record: LessonRecord) -> frozenset[Relation]:
    """How the actor stands to this record: as to its enrolment, and whether they wrote it."""
    author = {Relation.AUTHOR} if record.instructor_id == actor.person_id else set()
    return relations_to(actor, record.enrolment) | author
