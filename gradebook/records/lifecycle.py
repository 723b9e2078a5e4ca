"""The life of a lesson record: which act is possible in which state, and what comes after."""

from collections.abc import Iterable, Mapping
from typing import Any

from gradebook.records.faults import ConflictError
from gradebook.records.permissions import Action
from gradebook.records.values import State
from syllabus.saying import say

POSSIBLE: Mapping[Action, frozenset[State]] = {
    Action.RECORD_READ: frozenset(State),
    Action.RECORD_GRADE: frozenset({State.DRAFT}),
    Action.RECORD_SIGN: frozenset({State.DRAFT}),
    Action.RECORD_DISCARD: frozenset({State.DRAFT}),
    Action.RECORD_ACKNOWLEDGE: frozenset({State.SIGNED}),
    Action.RECORD_HAND_OVER: frozenset({State.SIGNED}),
    Action.RECORD_AMEND: frozenset({State.SIGNED, State.ACKNOWLEDGED}),
    Action.RECORD_VOID: frozenset({State.SIGNED, State.ACKNOWLEDGED}),
}
EFFECTIVE = (State.SIGNED, State.ACKNOWLEDGED)
"""States in which a record counts."""

WHY_NOT = {
    State.DRAFT: say("This record is still a draft; it must be signed first."),
    State.SIGNED: say("This record is signed and cannot be changed; amend it instead."),
    State.ACKNOWLEDGED: say("This record is signed and acknowledged; amend it instead."),
    State.SUPERSEDED: say("This record has been superseded by an amendment."),
    State.VOID: say("This record has been declared void."),
}


def check_possible(action: Action, state: State) -> None:
    """Raise ConflictError when the record's state does not allow the act."""
    if state not in POSSIBLE[action]:
        raise ConflictError(WHY_NOT[state])


def as_it_stands(record_id: str, amendments: Iterable[Any]) -> str:
    """The id of what has taken a record's place, or its own.

    `amendments` have an `id` and what they amend (`supersedes_id`, None for nothing).
    """
    later = {one.supersedes_id: one.id for one in amendments}
    while record_id in later:
        record_id = later[record_id]
    return record_id
