"""Who may do what: one matrix, closed by default.

An action reads `object:verb`; it is the permission, the audit tag and the line on the
permissions page. A cell lists the relations to the student's enrolment that suffice.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Role(StrEnum):
    """A post somebody holds; the value is what people read."""

    STUDENT = "student"
    INSTRUCTOR = "instructor"
    CHECK_INSTRUCTOR = "check instructor"
    CHIEF = "chief instructor"
    ADMINISTRATOR = "administrator"
    AUDITOR = "auditor"


class Relation(StrEnum):
    """How an actor stands to the object asked for."""

    ANY = "anyone's"
    SELF = "own"
    TEACHES = "assigned student's"
    CHECKS = "assigned check's"
    AUTHOR = "own record"


class Action(StrEnum):
    """Everything that can be done, `object:verb`."""

    HOME_READ = "home:read"
    ACCOUNT_KEEP = "account:keep"
    PHONE_ADD = "phone:add"
    STUDENT_READ = "student:read"
    RECORD_READ = "lesson-record:read"
    RECORD_OPEN = "lesson-record:open"
    RECORD_GRADE = "lesson-record:grade"
    RECORD_SIGN = "lesson-record:sign"
    RECORD_DISCARD = "lesson-record:discard"
    RECORD_ACKNOWLEDGE = "lesson-record:acknowledge"
    RECORD_HAND_OVER = "lesson-record:hand-over"
    RECORD_AMEND = "lesson-record:amend"
    RECORD_VOID = "lesson-record:void"
    SELF_GRADE = "self-grade:record"
    WATCH_CLOSE = "watch-item:close"
    EVENT_FILE = "event:file"
    CHECK_RECOMMEND = "stage-check:recommend"
    CHECK_APPROVE = "stage-check:approve"
    BOARD_READ = "readiness-board:read"
    SCHOOL_READ = "school-watch:read"
    AUDIT_READ = "audit:read"
    LEDGER_READ = "ledger:read"
    SYLLABUS_READ = "syllabus:read"
    ENROL = "enrolment:enrol"
    ASSIGN = "enrolment:assign"
    END = "enrolment:end"
    IMPORT = "records:import"
    CERTIFY = "record:certify"
    COPY_READ = "copy:read"
    COPY_REQUEST = "copy:request"
    FOREIGN_TAKE = "foreign-record:take"
    WORK_READ = "long-work:read"
    PEOPLE_READ = "people:read"
    PEOPLE_CHANGE = "people:change"
    PEOPLE_CONFIRM = "people:confirm"
    RETENTION_READ = "retention:read"
    RETENTION_SET = "retention:set"
    ERASURE_ASK = "erasure:ask"
    ERASURE_CONFIRM = "erasure:confirm"
    PERMISSIONS_READ = "permissions:read"
    HEALTH_READ = "health:read"


ANY, SELF, TEACHES, CHECKS, AUTHOR = (
    frozenset({relation})
    for relation in (
        Relation.ANY,
        Relation.SELF,
        Relation.TEACHES,
        Relation.CHECKS,
        Relation.AUTHOR,
    )
)
EVERYBODY = dict.fromkeys(Role, ANY)
STAFF = {Role.INSTRUCTOR: TEACHES, Role.CHECK_INSTRUCTOR: CHECKS, Role.CHIEF: ANY}
READERS = {Role.STUDENT: SELF, **STAFF, Role.AUDITOR: ANY}

MATRIX: Mapping[Action, Mapping[Role, frozenset[Relation]]] = {
    Action.HOME_READ: EVERYBODY,
    Action.ACCOUNT_KEEP: dict.fromkeys(Role, SELF),
    Action.PHONE_ADD: dict.fromkeys(STAFF, SELF),
    Action.STUDENT_READ: READERS,
    Action.RECORD_READ: READERS,
    Action.RECORD_OPEN: STAFF,
    Action.RECORD_GRADE: dict.fromkeys(STAFF, AUTHOR),
    Action.RECORD_SIGN: dict.fromkeys(STAFF, AUTHOR),
    Action.RECORD_DISCARD: {**dict.fromkeys(STAFF, AUTHOR), Role.CHIEF: ANY},
    Action.RECORD_ACKNOWLEDGE: {Role.STUDENT: SELF},
    Action.RECORD_HAND_OVER: STAFF,
    Action.RECORD_AMEND: {**dict.fromkeys(STAFF, AUTHOR), Role.CHIEF: ANY},
    Action.RECORD_VOID: {**dict.fromkeys(STAFF, AUTHOR), Role.CHIEF: ANY},
    Action.SELF_GRADE: {Role.STUDENT: SELF},
    Action.WATCH_CLOSE: {Role.INSTRUCTOR: TEACHES, Role.CHIEF: ANY},
    Action.EVENT_FILE: {Role.INSTRUCTOR: TEACHES, Role.CHIEF: ANY},
    Action.CHECK_RECOMMEND: {Role.INSTRUCTOR: TEACHES, Role.CHIEF: ANY},
    Action.CHECK_APPROVE: {Role.CHIEF: ANY},
    Action.BOARD_READ: {Role.CHIEF: ANY, Role.AUDITOR: ANY},
    Action.SCHOOL_READ: {Role.CHIEF: ANY, Role.AUDITOR: ANY},
    Action.AUDIT_READ: {Role.CHIEF: ANY, Role.AUDITOR: ANY},
    Action.LEDGER_READ: {Role.CHIEF: ANY, Role.AUDITOR: ANY},
    Action.SYLLABUS_READ: EVERYBODY,
    Action.ENROL: {Role.CHIEF: ANY, Role.ADMINISTRATOR: ANY},
    Action.ASSIGN: {Role.CHIEF: ANY},
    Action.END: {Role.CHIEF: ANY},
    Action.IMPORT: {Role.CHIEF: ANY},
    Action.CERTIFY: {Role.CHIEF: ANY},
    Action.COPY_READ: {Role.STUDENT: SELF, Role.CHIEF: ANY, Role.AUDITOR: ANY},
    Action.COPY_REQUEST: {Role.STUDENT: SELF},
    Action.FOREIGN_TAKE: {Role.CHIEF: ANY},
    Action.WORK_READ: {Role.CHIEF: SELF, Role.AUDITOR: SELF},
    Action.PEOPLE_READ: {Role.CHIEF: ANY, Role.ADMINISTRATOR: ANY},
    Action.PEOPLE_CHANGE: {Role.ADMINISTRATOR: ANY},
    Action.PEOPLE_CONFIRM: {Role.CHIEF: ANY, Role.ADMINISTRATOR: ANY},
    Action.RETENTION_READ: {Role.CHIEF: ANY, Role.ADMINISTRATOR: ANY, Role.AUDITOR: ANY},
    Action.RETENTION_SET: {Role.CHIEF: ANY},
    Action.ERASURE_ASK: {Role.CHIEF: ANY},
    Action.ERASURE_CONFIRM: {Role.CHIEF: ANY, Role.ADMINISTRATOR: ANY},
    Action.PERMISSIONS_READ: {Role.ADMINISTRATOR: ANY, Role.CHIEF: ANY, Role.AUDITOR: ANY},
    Action.HEALTH_READ: {Role.ADMINISTRATOR: ANY, Role.CHIEF: ANY, Role.AUDITOR: ANY},
}


@dataclass(frozen=True, slots=True)
class Actor:
    """Who is asking."""

    person_id: str
    name: str
    roles: frozenset[Role]


def may(actor: Actor, action: Action, relations: frozenset[Relation] = frozenset()) -> bool:
    """Whether one of the actor's roles allows the action under these relations."""
    held = relations | ANY
    rules = MATRIX.get(action, {})
    return any(rules.get(role, frozenset()) & held for role in actor.roles)
