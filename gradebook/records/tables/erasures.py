"""Erasing a student's records: who asked, who confirmed, and what an older copy was told."""

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from gradebook.records.tables.columns import Id, Table, Words


class ErasureRequest(Table):
    """A student's records that one person asked to be erased, and what became of it.

    `person_id` is empty once it is done. `covers` is the SHA-256 of the entries it is about
    (`ledger.erasures.covers`), `early` whether retention had not run, `account` whether the
    account goes too. `asked_seq`, `decided_seq` and `seq` are the entries that say so;
    `swept_at` is when the files no longer held what was erased.
    """

    __tablename__ = "erasure_request"
    id: Mapped[Id]
    person_id: Mapped[str | None] = mapped_column(String(32))
    account: Mapped[bool]
    entries: Mapped[int]
    covers: Mapped[str] = mapped_column(String(64))
    basis: Mapped[Words]
    early: Mapped[bool]
    asked_by: Mapped[str] = mapped_column(String(32), ForeignKey("person.id"))
    asked_at: Mapped[datetime]
    asked_seq: Mapped[int]
    decided_by: Mapped[str | None] = mapped_column(String(32), ForeignKey("person.id"))
    decided_at: Mapped[datetime | None]
    decided_seq: Mapped[int | None]
    confirmed: Mapped[bool | None]
    done_at: Mapped[datetime | None]
    seq: Mapped[int | None]
    swept_at: Mapped[datetime | None]
    __table_args__ = (
        CheckConstraint("(decided_at IS NULL) = (confirmed IS NULL)", name="decided"),
        CheckConstraint("(done_at IS NULL) = (seq IS NULL)", name="done"),
        CheckConstraint("(done_at IS NULL) = (person_id IS NOT NULL)", name="forgotten"),
    )


class ErasureNotice(Table):
    """The entry of an erasure that this ledger, restored from an older copy, does not hold."""

    __tablename__ = "erasure_notice"
    digest: Mapped[str] = mapped_column(String(64), primary_key=True)
    seq: Mapped[int]
    entry: Mapped[str] = mapped_column(Text)
    statement: Mapped[str] = mapped_column(Text)
    taken_at: Mapped[datetime]
