"""The matrix against a table written by hand: a wrong cell shows as one failing line."""

from collections.abc import Iterator

import pytest

from gradebook.records.permissions import MATRIX, Action, Actor, Relation, Role, may

# Per action: role to the relations that suffice. What is not listed must be refused.
GOLDEN = {
    "lesson-record:grade": {
        "instructor": {"own record"},
        "check instructor": {"own record"},
        "chief instructor": {"own record"},
    },
    "lesson-record:sign": {
        "instructor": {"own record"},
        "check instructor": {"own record"},
        "chief instructor": {"own record"},
    },
    "lesson-record:amend": {
        "instructor": {"own record"},
        "check instructor": {"own record"},
        "chief instructor": {"anyone's"},
    },
    "lesson-record:acknowledge": {"student": {"own"}},
    "stage-check:approve": {"chief instructor": {"anyone's"}},
    "records:import": {"chief instructor": {"anyone's"}},
    "record:certify": {"chief instructor": {"anyone's"}},
    "copy:read": {
        "student": {"own"},
        "chief instructor": {"anyone's"},
        "auditor": {"anyone's"},
    },
    "copy:request": {"student": {"own"}},
    "foreign-record:take": {"chief instructor": {"anyone's"}},
    "people:read": {"chief instructor": {"anyone's"}, "administrator": {"anyone's"}},
    "people:change": {"administrator": {"anyone's"}},
    "people:confirm": {"chief instructor": {"anyone's"}, "administrator": {"anyone's"}},
    "health:read": {
        "chief instructor": {"anyone's"},
        "administrator": {"anyone's"},
        "auditor": {"anyone's"},
    },
}
ROLES = (
    "student",
    "instructor",
    "check instructor",
    "chief instructor",
    "administrator",
    "auditor",
)
RELATIONS = ("anyone's", "own", "assigned student's", "assigned check's", "own record")


def cells() -> Iterator[tuple[str, str, str, bool]]:
    for action, row in GOLDEN.items():
        for role in ROLES:
            suffices = row.get(role, set())
            for relation in RELATIONS:
                allowed = "anyone's" in suffices or relation in suffices
                yield action, role, relation, allowed


def somebody(*roles: Role) -> Actor:
    return Actor("p1", "Somebody", frozenset(roles))


@pytest.mark.parametrize(("action", "role", "relation", "allowed"), list(cells()))
def test_a_sensitive_act_is_allowed_exactly_where_the_table_says(
    action: str, role: str, relation: str, allowed: bool
) -> None:
    found = may(somebody(Role(role)), Action(action), frozenset({Relation(relation)}))
    assert found is allowed


def test_the_table_knows_every_role_and_relation() -> None:
    assert set(ROLES) == {role.value for role in Role}
    assert set(RELATIONS) == {relation.value for relation in Relation}


def test_every_action_has_a_row_in_the_matrix() -> None:
    assert set(MATRIX) == set(Action)


@pytest.mark.parametrize("role", Role)
def test_an_action_the_matrix_does_not_know_is_closed_to_everybody(role: Role) -> None:
    unknown = "logbook:burn"
    assert not may(somebody(role), unknown, frozenset(Relation))  # type: ignore[arg-type]


def test_somebody_without_a_role_may_do_nothing() -> None:
    assert not any(may(somebody(), action, frozenset(Relation)) for action in Action)


@pytest.mark.parametrize("action", [Action.RECORD_SIGN, Action.RECORD_GRADE])
def test_an_administrator_can_never_sign_or_grade(action: Action) -> None:
    assert not may(somebody(Role.ADMINISTRATOR), action, frozenset(Relation))


def test_an_auditor_changes_nothing() -> None:
    allowed = {
        action.value
        for action in Action
        if may(somebody(Role.AUDITOR), action, frozenset(Relation))
    }
    own = Action.ACCOUNT_KEEP.value  # their own secret and second factors
    assert all(name.endswith(":read") for name in allowed - {own}), allowed


def test_a_student_can_neither_sign_nor_amend_a_record_of_their_own_training() -> None:
    own = frozenset({Relation.SELF})
    assert not may(somebody(Role.STUDENT), Action.RECORD_SIGN, own)
    assert not may(somebody(Role.STUDENT), Action.RECORD_AMEND, own)


def test_an_instructor_cannot_sign_what_a_colleague_graded() -> None:
    teaches = frozenset({Relation.TEACHES})
    assert not may(somebody(Role.INSTRUCTOR), Action.RECORD_SIGN, teaches)


def test_two_roles_allow_what_either_allows() -> None:
    both = somebody(Role.INSTRUCTOR, Role.ADMINISTRATOR)
    assert may(both, Action.PEOPLE_CHANGE)
    assert may(both, Action.RECORD_OPEN, frozenset({Relation.TEACHES}))


def test_a_person_with_two_roles_gains_no_act_that_neither_has() -> None:
    both = somebody(Role.STUDENT, Role.ADMINISTRATOR)
    assert not may(both, Action.RECORD_SIGN, frozenset(Relation))
