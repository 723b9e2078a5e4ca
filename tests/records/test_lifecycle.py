"""Which act is possible in which state of a record: the whole table, and what is said else."""

import pytest

from gradebook.records import lifecycle
from gradebook.records.faults import ConflictError
from gradebook.records.permissions import Action
from gradebook.records.values import State

EVERY = set(State)
TABLE = {
    Action.RECORD_READ: EVERY,
    Action.RECORD_GRADE: {State.DRAFT},
    Action.RECORD_SIGN: {State.DRAFT},
    Action.RECORD_DISCARD: {State.DRAFT},
    Action.RECORD_ACKNOWLEDGE: {State.SIGNED},
    Action.RECORD_HAND_OVER: {State.SIGNED},
    Action.RECORD_AMEND: {State.SIGNED, State.ACKNOWLEDGED},
    Action.RECORD_VOID: {State.SIGNED, State.ACKNOWLEDGED},
}
WORDS = {
    State.DRAFT: "still a draft",
    State.SIGNED: "signed and cannot be changed",
    State.ACKNOWLEDGED: "signed and acknowledged",
    State.SUPERSEDED: "superseded",
    State.VOID: "declared void",
}


@pytest.mark.parametrize("state", State)
@pytest.mark.parametrize("action", TABLE)
def test_an_act_is_possible_in_these_states_alone(action: Action, state: State) -> None:
    if state in TABLE[action]:
        lifecycle.check_possible(action, state)
        return
    with pytest.raises(ConflictError, match=WORDS[state]):
        lifecycle.check_possible(action, state)


def test_no_other_act_asks_for_a_state() -> None:
    assert set(lifecycle.POSSIBLE) == set(TABLE)


def test_a_record_counts_from_its_signature_until_it_is_replaced_or_void() -> None:
    assert set(lifecycle.EFFECTIVE) == {State.SIGNED, State.ACKNOWLEDGED}
