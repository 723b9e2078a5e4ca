"""Which rows follow from which statements, and what state a record must be in by them.

The tables that screens read are a projection of the ledger. `Projection` takes the statements
in their order and knows, at the end, what every row has to say.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from gradebook.ledger.statements import Statement
from gradebook.records import statement as say
from gradebook.records.statement import Body
from gradebook.records.tables import Table
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.people import RoleGrant
from gradebook.records.tables.training import (
    CloseDecision,
    Enrolment,
    FiledEvent,
    StageApproval,
    Teaching,
)
from gradebook.records.values import State


class Mirror(NamedTuple):
    """The table a statement is kept in, the name of its id in the body, and the row's words."""

    table: type[Table]
    name: str
    body: Callable[[Any], Body]


WRITTEN: Mapping[str, Mirror] = {
    "record.sign": Mirror(LessonRecord, "record", say.record_of),
    "enrolment.enrol": Mirror(Enrolment, "enrolment", say.enrolment_of),
    "enrolment.assign": Mirror(Teaching, "teaching", say.teaching_of),
    "event.file": Mirror(FiledEvent, "event", say.event_of),
    "check.recommend": Mirror(StageApproval, "check", say.recommendation_of),
    "watch.close": Mirror(CloseDecision, "decision", say.decision_of),
    "role.grant": Mirror(RoleGrant, "grant", say.grant_of),
}
"""Statements that make a row. Each row of these tables comes from one of them."""

CHANGED: Mapping[str, Mirror] = {
    "record.acknowledge": Mirror(LessonRecord, "record", say.answer_of),
    "record.disagree": Mirror(LessonRecord, "record", say.answer_of),
    "record.void": Mirror(LessonRecord, "record", say.void_of),
    "enrolment.end": Mirror(Enrolment, "enrolment", say.ending_of),
    "enrolment.unassign": Mirror(Teaching, "teaching", say.teaching_end_of),
    "check.approve": Mirror(StageApproval, "check", say.approval_of),
    "role.revoke": Mirror(RoleGrant, "grant", say.grant_end_of),
}
"""Statements that say more of a row that is there; the last one of its kind holds."""


@dataclass(slots=True)
class Standing:
    """What the ledger says of one lesson record."""

    digest: str
    seq: int
    state: State = State.SIGNED


@dataclass(slots=True)
class Projection:
    """What follows from the statements read so far."""

    stated: dict[type[Table], set[str]] = field(default_factory=dict)
    last: dict[tuple[str, str], tuple[int, Body]] = field(default_factory=dict)
    records: dict[str, Standing] = field(default_factory=dict)
    marks: dict[int, str] = field(default_factory=dict)
    """Roots of the audit trail's tree by how many events they cover."""

    def take(self, seq: int, digest: str, statement: Statement) -> None:
        """Let one more statement have its effect."""
        made, changed = WRITTEN.get(statement.type), CHANGED.get(statement.type)
        body = statement.body
        if made is not None:
            self.stated.setdefault(made.table, set()).add(str(body.get(made.name)))
        if changed is not None:
            self.last[statement.type, str(body.get(changed.name))] = (seq, body)
        if statement.type == "audit.mark":
            self.marks[body["events"]] = body["root"]
        if statement.type.startswith("record."):
            self._record(seq, digest, statement)

    def _record(self, seq: int, digest: str, statement: Statement) -> None:
        name = str(statement.body.get("record"))
        if statement.type == "record.sign":
            self.records[name] = Standing(digest, seq)
            self._move(statement.body.get("amends"), State.SUPERSEDED)
        elif statement.type == "record.void":
            self._move(name, State.VOID)
        elif statement.type in ("record.acknowledge", "record.disagree"):
            self._move(name, State.ACKNOWLEDGED)

    def _move(self, name: object, state: State) -> None:
        if name in self.records:
            self.records[str(name)].state = state
