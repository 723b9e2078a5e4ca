"""What erasing a student touches: every table stands here (a test says when one is missing).

Rows that are about a record, an enrolment or an account go with it. Of the ledger and of the
audit trail rows stay, with nothing in them but what proves the rest.
"""

from sqlalchemy.orm import InstrumentedAttribute

from gradebook.records.tables import Table
from gradebook.records.tables.audit import AuditEvent
from gradebook.records.tables.deliveries import Delivery
from gradebook.records.tables.erasures import ErasureNotice, ErasureRequest
from gradebook.records.tables.jobs import Job
from gradebook.records.tables.ledger import (
    AuditNode,
    CertifiedCopy,
    EarlyStatement,
    ForeignRecord,
    LedgerCheckpoint,
    LedgerEntry,
    SigningKey,
    TrustedKey,
)
from gradebook.records.tables.lessons import (
    ErrorMark,
    Grade,
    LessonRecord,
    ReadingTaken,
    SelfGrade,
)
from gradebook.records.tables.needle import NeedleFit, NeedleForecast, NeedleState
from gradebook.records.tables.people import (
    Invitation,
    KnownDevice,
    LoginAttempt,
    LoginSession,
    Person,
    RecoveryCode,
    RoleGrant,
    RoleRequest,
    School,
    SecondFactor,
)
from gradebook.records.tables.training import (
    CloseDecision,
    Enrolment,
    FiledEvent,
    Revision,
    StageApproval,
    Teaching,
)

Owned = tuple[tuple[type[Table], InstrumentedAttribute[str]], ...]

OF_RECORD: Owned = (
    (Grade, Grade.record_id),
    (ErrorMark, ErrorMark.record_id),
    (ReadingTaken, ReadingTaken.record_id),
    (NeedleForecast, NeedleForecast.record_id),
    (EarlyStatement, EarlyStatement.record_id),
    (Delivery, Delivery.record_id),
)
OF_ENROLMENT: Owned = (
    (SelfGrade, SelfGrade.enrolment_id),
    (NeedleState, NeedleState.enrolment_id),
    (CloseDecision, CloseDecision.enrolment_id),
    (FiledEvent, FiledEvent.enrolment_id),
    (StageApproval, StageApproval.enrolment_id),
    (Teaching, Teaching.enrolment_id),
    (CertifiedCopy, CertifiedCopy.enrolment_id),
    (ForeignRecord, ForeignRecord.enrolment_id),
    (LessonRecord, LessonRecord.enrolment_id),
    (Enrolment, Enrolment.id),
)
OF_ACCOUNT: Owned = (
    (RoleGrant, RoleGrant.person_id),
    (RoleRequest, RoleRequest.person_id),
    (LoginSession, LoginSession.person_id),
    (KnownDevice, KnownDevice.person_id),
    (SecondFactor, SecondFactor.person_id),
    (RecoveryCode, RecoveryCode.person_id),
    (Invitation, Invitation.person_id),
    (SigningKey, SigningKey.person_id),
    (Delivery, Delivery.person_id),
    (Person, Person.id),
)
"""In an order in which no row goes before those that refer to it."""
BLANKED: tuple[type[Table], ...] = (LedgerEntry, AuditEvent)
FORGOTTEN: tuple[type[Table], ...] = (LoginAttempt, Job)
"""Emptied altogether: hashes of addresses, which could be guessed at; long work of a day, whose
outcome may repeat lines of a file about anybody."""
NOT_ABOUT_STUDENTS: tuple[type[Table], ...] = (
    School, Revision, NeedleFit, LedgerCheckpoint, AuditNode, TrustedKey,
    ErasureRequest, ErasureNotice,
)  # fmt: skip
"""The needle's parameters are of tasks and instructors; requests lose whom they are about."""


def swept() -> list[str]:
    """The tables whose files held what was erased, by name."""
    owned = (table for table, _ in (*OF_RECORD, *OF_ENROLMENT, *OF_ACCOUNT))
    return sorted({table.__tablename__ for table in (*owned, *BLANKED, *FORGOTTEN)})
