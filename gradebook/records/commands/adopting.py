"""Taking a school over that kept records before there was a ledger.

Each row gets the statement it would have had, signed by the school's key and marked as adopted:
the ledger says from then on what was there, not who signed it before.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Engine, select, update
from sqlalchemy.orm import Session

from gradebook.records import guards
from gradebook.records.act import Act
from gradebook.records.commands import founding, needling
from gradebook.records.database import migrating
from gradebook.records.mirrors import MADE
from gradebook.records.pen import ADOPTED, Pen, Signer
from gradebook.records.statement import answer_of, record_of
from gradebook.records.store import auditing, people
from gradebook.records.tables import Table
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import AuditNode, EarlyStatement
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.people import RoleGrant
from gradebook.records.tables.training import Enrolment, StageApproval, Teaching


def adopt(engine: Engine, seed: bytes, at: datetime) -> int:
    """Enter everything there is in a new ledger; how many statements that took.

    Nothing is done, and 0 given, for a database without a school or with a ledger. One
    transaction; the guards are away meanwhile, since records get their places in the ledger.
    """
    with migrating(engine) as connection, connection.begin():
        session = Session(connection, expire_on_commit=False)
        school = people.school(session)
        if school is None or school.vkey:
            return 0
        guards.remove(connection)
        act = founding.server_act(session, seed, at, school.zone)
        founding.open_ledger(act, school)
        number = 1 + _adopt_all(_adopting(act))
        session.flush()
        guards.install(connection)
    return number


def _adopting(act: Act) -> Act:
    if act.pen is None:
        raise RuntimeError("adopting needs the school's key")
    house = act.pen.house
    return replace(act, pen=Pen(Signer(house.kid, house.seed, ADOPTED)))


def _adopt_all(act: Act) -> int:
    number = 0
    plain = [(kind, mirror.table) for kind, mirror in MADE.items() if kind != "record.sign"]
    made = ((kind, row) for kind, table in plain for row in _rows(act.session, table))
    for kind, row in (*made, *_changes(act.session)):
        act.state_row(kind, _enrolment(row), row)
        number += 1
    number += _adopt_records(act)
    for event in _rows(act.session, AuditEvent):
        if act.session.scalar(select(AuditNode.place).filter_by(event_id=event.id)) is None:
            auditing.node(act.session, event)
    return number


def _adopt_records(act: Act) -> int:
    """Records in the order they were signed; their old numbers make room for the new."""
    signed = update(LessonRecord).where(LessonRecord.sequence > 0)
    act.session.execute(signed.values(sequence=-LessonRecord.sequence))
    number = sum(_record(act, early) for early in _rows(act.session, EarlyStatement))
    needling.rebuild(act.session, needling.everybody(act.session))
    return number


def _rows(session: Session, table: type[Table]) -> list[Any]:
    identity = table.__mapper__.primary_key[0]
    return list(session.scalars(select(table).order_by(identity)).unique())


def _enrolment(row: Any) -> str | None:  # noqa: ANN401 - any row
    if isinstance(row, RoleGrant):
        return None
    found: str = row.id if isinstance(row, Enrolment) else row.enrolment_id
    return found


def _changes(session: Session) -> Iterable[tuple[str, Any]]:
    """What was changed of rows since they were made."""
    yield from (
        ("role.revoke", row)
        for row in session.scalars(select(RoleGrant).where(RoleGrant.revoked_at.is_not(None)))
    )
    ended = select(Teaching).where(Teaching.until.is_not(None))
    yield from (("enrolment.unassign", row) for row in session.scalars(ended).unique())
    over = select(Enrolment).where(Enrolment.ended_on.is_not(None))
    yield from (("enrolment.end", row) for row in session.scalars(over).unique())
    approved = select(StageApproval).where(StageApproval.approved_by.is_not(None))
    yield from (("check.approve", row) for row in session.scalars(approved))


def _record(act: Act, early: EarlyStatement) -> int:
    """Enter a signed record, with the digest its text had before, and the student's answer."""
    record = act.session.get_one(LessonRecord, early.record_id)
    original = record.supersedes_id and act.session.get(LessonRecord, record.supersedes_id)
    body = record_of(record)
    body["supersedes"] = original.digest if original else None
    body["check"] = None
    body["early"] = {"sequence": early.sequence, "digest": early.digest}
    entry = act.state("record.sign", record.enrolment_id, body)
    record.sequence, record.digest = entry.seq, entry.digest
    act.session.flush()
    if record.acknowledged_at is None:
        return 1
    kind = "record.acknowledge" if record.agrees else "record.disagree"
    act.state(kind, record.enrolment_id, answer_of(record))
    return 2
