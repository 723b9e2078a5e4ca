"""Which rows follow from which statements, and how each must stand by them.

The tables that screens read are a projection of the ledger. `Projection` takes the statements
in their order and knows, at the end, which rows there are and what was said of each later.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from gradebook.ledger.statements import Statement
from gradebook.records import statement as say
from gradebook.records.pen import ADOPTED
from gradebook.records.rebuilding import FIRST, MADE, Columns, Unsaid, change_by
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
    """The table a statement is kept in, and the row's words."""

    table: type[Table]
    body: Callable[[Any], Body]


WRITTEN: Mapping[str, Mirror] = {
    "record.sign": Mirror(LessonRecord, say.record_of),
    "enrolment.enrol": Mirror(Enrolment, say.enrolment_of),
    "enrolment.assign": Mirror(Teaching, say.teaching_of),
    "event.file": Mirror(FiledEvent, say.event_of),
    "check.recommend": Mirror(StageApproval, say.recommendation_of),
    "watch.close": Mirror(CloseDecision, say.decision_of),
    "role.grant": Mirror(RoleGrant, say.grant_of),
}
"""Statements that make a row. Each row of these tables comes from one of them."""

CHANGED: Mapping[str, Mirror] = {
    "record.acknowledge": Mirror(LessonRecord, say.answer_of),
    "record.disagree": Mirror(LessonRecord, say.answer_of),
    "record.void": Mirror(LessonRecord, say.void_of),
    "enrolment.end": Mirror(Enrolment, say.ending_of),
    "enrolment.unassign": Mirror(Teaching, say.teaching_end_of),
    "check.approve": Mirror(StageApproval, say.approval_of),
    "role.revoke": Mirror(RoleGrant, say.grant_end_of),
}
"""Statements that say more of a row that is there."""


@dataclass(slots=True)
class Standing:
    """The entry that made a row, and what was said of it later."""

    seq: int
    later: Columns = field(default_factory=dict)


@dataclass(slots=True)
class Projection:
    """What follows from the statements read so far."""

    rows: dict[type[Table], dict[str, Standing]] = field(
        default_factory=lambda: {table: {} for table in FIRST}
    )
    marks: dict[int, str] = field(default_factory=dict)
    """Roots of the audit trail's tree by how many events they cover."""

    def take(self, seq: int, digest: str, statement: Statement) -> None:
        """Let one more statement have its effect."""
        made, change = MADE.get(statement.type), change_by(statement)
        if made is not None:
            name = str(statement.body.get(made.said["id"]))
            self.rows[made.table][name] = Standing(seq)
        if change is not None:
            self._say(*change)
        if statement.type == "audit.mark":
            self.marks[statement.body["events"]] = statement.body["root"]
        if statement.type == "record.sign":
            self._sign(seq, digest, statement.body)
        if statement.type == "check.recommend" and statement.assurance == ADOPTED:
            unknown = Unsaid(None)  # the text of old did not say which record used it
            self._say(StageApproval, str(statement.body.get("check")), {"record_id": unknown})

    def later(self, table: type[Table], name: str) -> Columns:
        """What the columns that may change hold by the last statement about the row."""
        return {**FIRST[table], **self.rows[table][name].later}

    def _sign(self, seq: int, digest: str, body: Body) -> None:
        name = str(body.get("record"))
        self._say(LessonRecord, name, {"sequence": seq, "digest": digest})
        superseded = {"state": State.SUPERSEDED.value}
        self._say(LessonRecord, str(body.get("amends")), superseded)
        self._say(StageApproval, str(body.get("check")), {"record_id": name})

    def _say(self, table: type[Table], name: str, columns: Columns) -> None:
        held = self.rows[table].get(name)
        if held is not None:
            held.later.update(columns)
