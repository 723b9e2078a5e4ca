"""Which rows follow from which statements, and how each must stand by them.

The tables that screens read are a projection of the ledger. `Projection` takes the statements
in their order and knows, at the end, which rows there are and what was said of each later.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from gradebook.ledger.erasures import Erasure, Listed
from gradebook.ledger.statements import Statement
from gradebook.records.mirrors import MADE, Body
from gradebook.records.pen import ADOPTED
from gradebook.records.rebuilding import FIRST, Columns, Unsaid, change_by
from gradebook.records.tables import Table
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.training import StageApproval
from gradebook.records.values import State


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
    erased_events: Mapping[Listed, Erasure] = field(default_factory=dict)
    """Audit events whose words were erased, by id and leaf."""

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
