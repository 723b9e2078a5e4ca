"""What copies are made of, the copies made, and records of other schools."""

import json
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session, defer, selectinload

from gradebook.ledger.bundle import revision
from gradebook.ledger.canonical import MalformedError
from gradebook.ledger.statements import read_statement
from gradebook.ledger.succession import CHANGES
from gradebook.records.copying.papers import Papers, Said
from gradebook.records.faults import UnknownError
from gradebook.records.kinds import SURE
from gradebook.records.permissions import Action, Actor
from gradebook.records.store import (
    courses,
    enrolments,
    ledger,
    lessons,
    onfile,
    people,
    signatures,
)
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.ledger import CertifiedCopy as CertifiedCopy
from gradebook.records.tables.ledger import ForeignRecord, TrustedKey
from gradebook.records.tables.ledger import LedgerEntry as LedgerEntry
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.training import CloseDecision, Enrolment, FiledEvent, Revision
from gradebook.records.values import State

NAMED_BY = ("record", "event", "check", "teaching", "decision", "foreign", "enrolment")
KEYS = ("school.open", "key.enrol", "key.revoke", *CHANGES)


def pack(data: bytes) -> bytes:
    """A portable file as the database keeps it."""
    return zlib.compress(data, 9)


def unpack(content: bytes) -> bytes:
    """The portable file again, byte for byte."""
    return zlib.decompress(content)


def papers(session: Session, enrolment: Enrolment) -> Papers:
    """Everything a copy of this enrolment's record is made of."""
    school = people.school(session)
    if school is None:
        raise UnknownError
    records = _records(session, enrolment.id)
    entries = ledger.of_enrolment(session, enrolment.id)
    said, assurance = _said(entries)
    revisions = {enrolment.revision_id, *(row.revision_id for row in records)}
    return Papers(
        school=school,
        enrolment=enrolment,
        courses={name: courses.course_of(session, name) for name in revisions},
        records=records,
        events=_of(session, FiledEvent, enrolment.id),
        decisions=_of(session, CloseDecision, enrolment.id),
        foreign=foreign_of(session, enrolment.id),
        people={row.id: row for row in people.people(session)},
        file=onfile.file(session, enrolment.id),
        own_grades={
            (one.lesson, one.attempt, one.task): one.level
            for one in lessons.self_grades(session, enrolment.id)
        },
        said=said,
        assurance=assurance,
    )


def _records(session: Session, enrolment_id: str) -> list[LessonRecord]:
    rows = (LessonRecord.grades, LessonRecord.errors, LessonRecord.readings)
    query = (
        select(LessonRecord)
        .where(LessonRecord.enrolment_id == enrolment_id, LessonRecord.state != State.DRAFT)
        .order_by(LessonRecord.sequence)
        .options(*(selectinload(one) for one in rows))
    )
    return list(session.scalars(query).unique())


def _of(session: Session, table: Any, enrolment_id: str) -> list[Any]:  # noqa: ANN401
    return list(session.scalars(select(table).where(table.enrolment_id == enrolment_id)))


def _said(
    entries: Iterable[LedgerEntry],
) -> tuple[dict[tuple[str, str], Said], dict[int, str]]:
    """Statements by kind and the id they name, and how sure each signature is, in words.

    TornError for one that cannot be read: the copy would lack what it says.
    """
    said: dict[tuple[str, str], Said] = {}
    sure: dict[int, str] = {}
    for row in entries:
        try:
            statement = read_statement(row.statement)
        except MalformedError as fault:
            raise signatures.not_certified(row.seq, signatures.UNREADABLE) from fault
        body = statement.body
        name = next((str(body[one]) for one in NAMED_BY if one in body), "")
        said[row.kind, name] = Said(row.seq, body)
        sure[row.seq] = SURE.get(statement.assurance, statement.assurance)
    return said, sure


def key_entries(session: Session) -> list[LedgerEntry]:
    """Every entry by which the school introduces or ends a key, oldest first."""
    query = select(LedgerEntry).where(LedgerEntry.kind.in_(KEYS)).order_by(LedgerEntry.seq)
    return list(session.scalars(query))


def revision_files(session: Session, names: Sequence[str]) -> list[dict[str, Any]]:
    """The files of these revisions, as a portable file holds them, by publication."""
    query = select(Revision).where(Revision.id.in_(names))
    rows = session.scalars(query.order_by(Revision.published_at, Revision.id))
    return [revision(json.loads(row.files)) for row in rows]


@dataclass(frozen=True, slots=True)
class Made:
    """A copy that was made, without its content: for which purpose, by whom, when."""

    id: str
    enrolment_id: str
    purpose: str
    by: str
    at: datetime
    seq: int
    size: int
    sha256: str
    missing: int


def made(session: Session, enrolment_id: str) -> list[Made]:
    """The copies made of one enrolment's record, newest first."""
    query = (
        select(CertifiedCopy, LedgerEntry.statement)
        .join(LedgerEntry, LedgerEntry.seq == CertifiedCopy.seq)
        .where(CertifiedCopy.enrolment_id == enrolment_id)
        .options(defer(CertifiedCopy.content))
        .order_by(CertifiedCopy.seq.desc())
    )
    names = people.names(session)
    found = []
    for row, statement in session.execute(query):
        body = json.loads(statement)["body"]
        named = (row.id, row.enrolment_id, str(body["purpose"]), names.get(row.made_by, ""))
        lacks = len(body["missing"])
        found.append(Made(*named, row.made_at, row.seq, row.size, row.sha256, lacks))
    return found


def copy(session: Session, actor: Actor, action: Action, copy_id: str) -> CertifiedCopy:
    """One copy, for this actor and action; UnknownError or ForbiddenError otherwise."""
    row = session.get(CertifiedCopy, copy_id)
    if row is None:
        raise UnknownError
    enrolments.enrolment(session, actor, action, row.enrolment_id)
    return row


def taken_since(session: Session, actor_id: str, at: datetime, window: timedelta) -> int:
    """How many copies this person has asked for or taken away within a time before `at`."""
    query = select(func.count()).where(
        AuditEvent.at > at - window,
        AuditEvent.actor_id == actor_id,
        AuditEvent.action.in_((Action.COPY_READ.value, Action.COPY_REQUEST.value)),
    )
    return session.scalar(query) or 0


def foreign_of(session: Session, enrolment_id: str) -> list[ForeignRecord]:
    """The records of other schools kept beside an enrolment, oldest first; content left out."""
    query = (
        select(ForeignRecord)
        .where(ForeignRecord.enrolment_id == enrolment_id)
        .options(defer(ForeignRecord.content))
    )
    return list(session.scalars(query.order_by(ForeignRecord.taken_at, ForeignRecord.id)))


def foreign(session: Session, actor: Actor, foreign_id: str) -> ForeignRecord:
    """One record of another school, for whoever may read the student's own records."""
    row = session.get(ForeignRecord, foreign_id)
    if row is None:
        raise UnknownError
    enrolments.enrolment(session, actor, Action.RECORD_READ, row.enrolment_id)
    return row


def trusted(session: Session) -> list[TrustedKey]:
    """The keys of other schools that are trusted here, newest first."""
    order = TrustedKey.trusted_at.desc()
    return list(session.scalars(select(TrustedKey).order_by(order, TrustedKey.id)))


def trusted_key(session: Session, fingerprint: str) -> TrustedKey | None:
    """The trusted key with this fingerprint, if there is one."""
    query = select(TrustedKey).where(TrustedKey.fingerprint == fingerprint)
    return session.scalars(query).one_or_none()
