"""Whose records are kept and since when, what there is of one student, requests to erase."""

import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import ColumnElement, func, or_, select
from sqlalchemy.orm import Session

from gradebook import clock
from gradebook.ledger import erasures
from gradebook.ledger.canonical import jcs
from gradebook.ledger.erasures import Listed
from gradebook.ledger.statements import read_entry, read_statement
from gradebook.records.faults import UnknownError
from gradebook.records.permissions import Role
from gradebook.records.retention import Kept
from gradebook.records.store import auditing, ledger
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.erasures import ErasureRequest as ErasureRequest
from gradebook.records.tables.ledger import AuditNode, LedgerEntry, SigningKey
from gradebook.records.tables.lessons import LessonRecord
from gradebook.records.tables.people import Person, RoleGrant
from gradebook.records.tables.training import Enrolment

ABOUT_PEOPLE = ("role.", "key.")
"""Kinds of statements that are about somebody without being about an enrolment."""
NAME = re.compile(rb"[0-9a-f]{32}")


class StrayError(Exception):
    """A statement names the student though it is about something else; the words say which."""


@dataclass(frozen=True, slots=True)
class Subject:
    """All that is kept of one student; `account` says that the account can go too."""

    person_id: str
    name: str
    email: str
    account: bool
    enrolments: tuple[str, ...]
    records: tuple[str, ...]
    entries: tuple[Listed, ...]

    @property
    def covers(self) -> str:
        """The SHA-256 of just these entries."""
        return erasures.covers(self.entries)


def subject(session: Session, person_id: str) -> Subject:
    """What there is of a student; UnknownError for whoever never was one."""
    person = session.get(Person, person_id)
    query = select(Enrolment.id).where(Enrolment.student_id == person_id)
    enrolled = tuple(session.scalars(query.order_by(Enrolment.id)))
    roles = set(session.scalars(select(RoleGrant.role).where(RoleGrant.person_id == person_id)))
    if person is None or not (enrolled or Role.STUDENT.value in roles):
        raise UnknownError
    account = roles <= {Role.STUDENT.value}
    records = select(LessonRecord.id).where(LessonRecord.enrolment_id.in_(enrolled))
    return Subject(
        person_id=person_id,
        name=person.name,
        email=person.email,
        account=account,
        enrolments=enrolled,
        records=tuple(session.scalars(records.order_by(LessonRecord.id))),
        entries=tuple(_entries(session, enrolled, person_id if account else "")),
    )


def _entries(session: Session, enrolled: tuple[str, ...], person_id: str) -> Iterator[Listed]:
    """The entries about these enrolments and, where one is named, about this person."""
    wanted: list[ColumnElement[bool]] = [LedgerEntry.enrolment_id.in_(enrolled)]
    if person_id:
        wanted.append(LedgerEntry.statement.contains(person_id))
    columns = (LedgerEntry.seq, LedgerEntry.digest, LedgerEntry.kind, LedgerEntry.enrolment_id)
    query = select(*columns).where(or_(*wanted)).order_by(LedgerEntry.seq)
    for row in session.execute(query):
        if row.enrolment_id not in enrolled and not row.kind.startswith(ABOUT_PEOPLE):
            raise StrayError(
                f"Entry {row.seq} ({row.kind}) names this student, yet is not theirs."
            )
        yield row.seq, row.digest


def events(session: Session, who: Subject) -> list[Listed]:
    """Id and leaf of each audit event that tells of this student, by an id, name or address."""
    kids = select(SigningKey.id).where(SigningKey.person_id == who.person_id)
    ids = {*who.enrolments, *who.records}
    words: tuple[bytes, ...] = ()
    if who.account:
        ids |= {who.person_id, *session.scalars(kids)}
        words = (jcs(who.name), jcs(who.email))
    named = {one.encode() for one in ids}
    query = select(AuditNode.nodes, AuditEvent).join(AuditEvent).order_by(AuditEvent.id)
    found = []
    for nodes, event in session.execute(query.execution_options(yield_per=500)):
        text = auditing.text_of(event)
        if named.intersection(NAME.findall(text)) or any(one in text for one in words):
            found.append((event.id, nodes[: ledger.HASH].hex()))
    return found


def kept(session: Session, zone: str) -> list[Kept]:
    """What is kept of each student, who has waited longest first."""
    enrolled: dict[str, list[Any]] = defaultdict(list)
    for row in session.execute(select(Enrolment.id, Enrolment.student_id, Enrolment.ended_on)):
        enrolled[row.student_id].append(row)
    roles: dict[str, set[str]] = defaultdict(set)
    for person_id, role in session.execute(select(RoleGrant.person_id, RoleGrant.role)):
        roles[person_id].add(role)
    entered = _entered(session)
    found = []
    for person in session.execute(select(Person.id, Person.name, Person.created_at)):
        if enrolled[person.id] or Role.STUDENT.value in roles[person.id]:
            told = [entered[row.id] for row in enrolled[person.id] if row.id in entered]
            newest = max((at for at, _ in told), default=person.created_at)
            found.append(
                Kept(
                    person_id=person.id,
                    name=person.name,
                    last=clock.school_day(newest, zone),
                    ended=_ended(enrolled[person.id]),
                    running=any(row.ended_on is None for row in enrolled[person.id]),
                    entries=sum(number for _, number in told),
                    account=roles[person.id] <= {Role.STUDENT.value},
                )
            )
    return sorted(found, key=lambda one: (one.last, one.name))


def _ended(rows: list[Any]) -> date | None:
    days = [row.ended_on for row in rows if row.ended_on is not None]
    return max(days, default=None)


def _entered(session: Session) -> Mapping[str, tuple[datetime, int]]:
    """By enrolment: when the last entry about it came, and how many there are."""
    query = select(
        LedgerEntry.enrolment_id,
        func.max(LedgerEntry.recorded_at, type_=LedgerEntry.recorded_at.type).label("newest"),
        func.count().label("number"),
    ).where(LedgerEntry.enrolment_id.is_not(None))
    rows = session.execute(query.group_by(LedgerEntry.enrolment_id))
    return {row.enrolment_id: (row.newest, row.number) for row in rows}


def kept_of(session: Session, person_id: str, zone: str) -> Kept:
    """What is kept of one student; UnknownError for whoever is none."""
    for one in kept(session, zone):
        if one.person_id == person_id:
            return one
    raise UnknownError


def requests(session: Session) -> list[ErasureRequest]:
    """Every request to erase, the newest first."""
    query = select(ErasureRequest).order_by(ErasureRequest.asked_at.desc(), ErasureRequest.id)
    return list(session.scalars(query))


def request(session: Session, request_id: str) -> ErasureRequest:
    """One request; UnknownError when there is none."""
    row = session.get(ErasureRequest, request_id)
    if row is None:
        raise UnknownError
    return row


def is_open(row: ErasureRequest) -> bool:
    """Whether a request waits: for a second person, or to be carried out."""
    return row.done_at is None and row.confirmed is not False


def of_person(session: Session, person_id: str) -> ErasureRequest | None:
    """The request that waits about a student, if one does."""
    query = select(ErasureRequest).where(ErasureRequest.person_id == person_id)
    return next((row for row in session.scalars(query) if is_open(row)), None)


def rows_erased(session: Session, after: int) -> Mapping[str, int]:
    """How many rows of each table went by erasures whose entries come after that number."""
    found: Counter[str] = Counter()
    for row in ledger.erasures(session):
        if row.seq > after:
            found.update(
                erasures.read_erasure(read_entry(row.entry), read_statement(row.statement)).rows
            )
    return found
