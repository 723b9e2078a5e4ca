"""People, the roles they hold, their sessions and the school they belong to."""

from datetime import datetime

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, LargeBinary, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from gradebook.records.permissions import Role
from gradebook.records.retention import DEFAULT_YEARS, LEAST_YEARS
from gradebook.records.tables.columns import Code, Id, PersonId, Table

ROLES = ", ".join(f"'{role.value}'" for role in Role)


class School(Table):
    """The school: one row.

    `origin` names its ledger in every checkpoint; `vkey` is the public half of its key.
    `retention_years`: how long records are kept after a student's last entry.
    """

    __tablename__ = "school"
    id: Mapped[Id]
    name: Mapped[str] = mapped_column(String(120))
    zone: Mapped[str] = mapped_column(String(60))
    hours_style: Mapped[str] = mapped_column(String(10), default="decimal")
    language: Mapped[str] = mapped_column(String(10), default="en")
    origin: Mapped[str] = mapped_column(String(120), default="")
    vkey: Mapped[str] = mapped_column(String(300), default="")
    retention_years: Mapped[int] = mapped_column(default=DEFAULT_YEARS)
    created_at: Mapped[datetime]
    __table_args__ = (
        CheckConstraint("hours_style IN ('decimal', 'clock')", name="hours"),
        CheckConstraint(f"retention_years >= {LEAST_YEARS}", name="retention"),
    )


class Person(Table):
    """Somebody with an account. `secret_hash` is argon2id.

    `language` and `hours_style` are empty where the person has chosen none.
    """

    __tablename__ = "person"
    id: Mapped[Id]
    name: Mapped[str] = mapped_column(String(120))
    email: Mapped[str] = mapped_column(String(200), unique=True)
    certificate: Mapped[str] = mapped_column(String(60), default="")
    secret_hash: Mapped[str] = mapped_column(String(200))
    active: Mapped[bool] = mapped_column(default=True)
    must_change: Mapped[bool] = mapped_column(default=False)
    language: Mapped[str] = mapped_column(String(10), default="")
    dates: Mapped[str] = mapped_column(String(10), default="words")
    hours_style: Mapped[str] = mapped_column(String(10), default="")
    created_at: Mapped[datetime]
    grants: Mapped[list["RoleGrant"]] = relationship()


class RoleGrant(Table):
    """A role held from one moment to another (`revoked_at` empty: still held)."""

    __tablename__ = "role_grant"
    id: Mapped[Id]
    person_id: Mapped[PersonId]
    role: Mapped[Code]
    granted_at: Mapped[datetime]
    revoked_at: Mapped[datetime | None]
    __table_args__ = (CheckConstraint(f"role IN ({ROLES})", name="role"),)


class RoleRequest(Table):
    """A role that one person asked for somebody, and that a second person has to confirm."""

    __tablename__ = "role_request"
    id: Mapped[Id]
    person_id: Mapped[PersonId]
    role: Mapped[Code]
    asked_by: Mapped[str | None] = mapped_column(String(32), ForeignKey("person.id"))
    asked_at: Mapped[datetime]
    decided_by: Mapped[str | None] = mapped_column(String(32), ForeignKey("person.id"))
    decided_at: Mapped[datetime | None]
    confirmed: Mapped[bool | None]
    __table_args__ = (
        CheckConstraint(f"role IN ({ROLES})", name="role"),
        CheckConstraint("(decided_at IS NULL) = (confirmed IS NULL)", name="decided"),
    )


class LoginSession(Table):
    """One signed-in browser. Only the SHA-256 of its cookie is kept.

    `held_key` is the person's signing key, wrapped by the cookie itself: whoever has the
    database alone cannot use it. `second_at` is when the second factor was shown (empty:
    not yet), `signed_at` when all factors were last shown for signing.
    """

    __tablename__ = "login_session"
    id: Mapped[str] = mapped_column(String(64), primary_key=True)
    person_id: Mapped[PersonId]
    created_at: Mapped[datetime]
    seen_at: Mapped[datetime]
    second_at: Mapped[datetime | None]
    signed_at: Mapped[datetime | None]
    waits: Mapped[bool] = mapped_column(default=False)
    held_key: Mapped[bytes | None] = mapped_column(LargeBinary)
    address: Mapped[str] = mapped_column(String(60), default="")
    agent: Mapped[str] = mapped_column(String(120), default="")
    challenge: Mapped[str | None] = mapped_column(String(120))


class KnownDevice(Table):
    """A browser from which this person has signed in before, by the SHA-256 of its cookie."""

    __tablename__ = "known_device"
    id: Mapped[str] = mapped_column(String(64), primary_key=True)
    person_id: Mapped[PersonId]
    created_at: Mapped[datetime]
    seen_at: Mapped[datetime]


class SecondFactor(Table):
    """A second factor: a code generator (its secret sealed) or a passkey (its public key).

    `counter` is the last time step accepted of a code generator, or the signature count of a
    passkey; neither goes back.
    """

    __tablename__ = "second_factor"
    id: Mapped[Id]
    person_id: Mapped[PersonId]
    kind: Mapped[Code]
    label: Mapped[str] = mapped_column(String(60))
    sealed: Mapped[bytes] = mapped_column(LargeBinary)
    credential: Mapped[str | None] = mapped_column(String(1400), unique=True)
    counter: Mapped[int] = mapped_column(BigInteger, default=0)
    created_at: Mapped[datetime]
    used_at: Mapped[datetime | None]
    __table_args__ = (CheckConstraint("kind IN ('code', 'passkey')", name="kind"),)


class RecoveryCode(Table):
    """One of the one-time codes that stand in for a lost second factor, hashed."""

    __tablename__ = "recovery_code"
    id: Mapped[Id]
    person_id: Mapped[PersonId]
    digest: Mapped[str] = mapped_column(String(64))
    made_at: Mapped[datetime]
    used_at: Mapped[datetime | None]


class Invitation(Table):
    """A one-time link, known by its SHA-256: to join, or to set a new secret.

    `clears_factors` also removes lost second factors, and then needs a second person's yes.
    """

    __tablename__ = "invitation"
    id: Mapped[str] = mapped_column(String(64), primary_key=True)
    person_id: Mapped[PersonId]
    purpose: Mapped[Code]
    clears_factors: Mapped[bool] = mapped_column(default=False)
    made_by: Mapped[str | None] = mapped_column(String(32), ForeignKey("person.id"))
    made_at: Mapped[datetime]
    expires_at: Mapped[datetime]
    confirmed_by: Mapped[str | None] = mapped_column(String(32), ForeignKey("person.id"))
    used_at: Mapped[datetime | None]
    withdrawn_at: Mapped[datetime | None]
    __table_args__ = (CheckConstraint("purpose IN ('join', 'reset')", name="purpose"),)


class LoginAttempt(Table):
    """A failed attempt to sign in or to sign a record, kept for throttling."""

    __tablename__ = "login_attempt"
    id: Mapped[Id]
    subject: Mapped[str] = mapped_column(String(64))
    failed_at: Mapped[datetime]
    __table_args__ = (Index("ix_login_attempt_subject_failed_at", "subject", "failed_at"),)
