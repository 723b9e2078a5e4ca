"""People, the roles they hold, their sessions and the school they belong to."""

from datetime import datetime

from sqlalchemy import CheckConstraint, Index, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from gradebook.records.permissions import Role
from gradebook.records.tables.columns import Code, Id, PersonId, Table

ROLES = ", ".join(f"'{role.value}'" for role in Role)


class School(Table):
    """The school: one row."""

    __tablename__ = "school"
    id: Mapped[Id]
    name: Mapped[str] = mapped_column(String(120))
    zone: Mapped[str] = mapped_column(String(60))
    hours_style: Mapped[str] = mapped_column(String(10), default="decimal")
    created_at: Mapped[datetime]
    __table_args__ = (CheckConstraint("hours_style IN ('decimal', 'clock')", name="hours"),)


class Person(Table):
    """Somebody with an account. `secret_hash` is argon2id."""

    __tablename__ = "person"
    id: Mapped[Id]
    name: Mapped[str] = mapped_column(String(120))
    email: Mapped[str] = mapped_column(String(200), unique=True)
    certificate: Mapped[str] = mapped_column(String(60), default="")
    secret_hash: Mapped[str] = mapped_column(String(200))
    active: Mapped[bool] = mapped_column(default=True)
    must_change: Mapped[bool] = mapped_column(default=False)
    created_at: Mapped[datetime]
    grants: Mapped[list["RoleGrant"]] = relationship(lazy="selectin")


class RoleGrant(Table):
    """A role held from one moment to another (`revoked_at` empty: still held)."""

    __tablename__ = "role_grant"
    id: Mapped[Id]
    person_id: Mapped[PersonId]
    role: Mapped[Code]
    granted_at: Mapped[datetime]
    revoked_at: Mapped[datetime | None]
    __table_args__ = (CheckConstraint(f"role IN ({ROLES})", name="role"),)


class LoginSession(Table):
    """One signed-in browser. Only the SHA-256 of its cookie is kept."""

    __tablename__ = "login_session"
    id: Mapped[str] = mapped_column(String(64), primary_key=True)
    person_id: Mapped[PersonId]
    created_at: Mapped[datetime]
    seen_at: Mapped[datetime]


class LoginAttempt(Table):
    """A failed attempt to sign in or to sign a record, kept for throttling."""

    __tablename__ = "login_attempt"
    id: Mapped[Id]
    subject: Mapped[str] = mapped_column(String(64))
    failed_at: Mapped[datetime]
    __table_args__ = (Index("ix_login_attempt_subject_failed_at", "subject", "failed_at"),)
