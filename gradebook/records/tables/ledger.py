"""The ledger: signed statements in one order, the nodes of their tree, signed checkpoints.

Every other table can be worked out from these rows; none of these is ever changed or deleted.
"""

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, LargeBinary, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from gradebook.records.tables.columns import Code, Id, PersonId, Table


class LedgerEntry(Table):
    """One statement and the entry that put it in its place.

    `seq` counts from 1 without a gap. `entry` and `statement` are canonical texts; the other
    columns repeat what they say, for finding. `leaf` is the entry's hash in the tree, `prev`
    the leaf before it; `nodes` holds the tree's hashes that this leaf completed.
    """

    __tablename__ = "ledger_entry"
    seq: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    statement_id: Mapped[str] = mapped_column(String(36), unique=True)
    kind: Mapped[Code]
    actor_id: Mapped[str | None] = mapped_column(String(32), ForeignKey("person.id"))
    enrolment_id: Mapped[str | None] = mapped_column(String(32))
    statement: Mapped[str] = mapped_column(Text)
    digest: Mapped[str] = mapped_column(String(64))
    entry: Mapped[str] = mapped_column(Text)
    leaf: Mapped[str] = mapped_column(String(64))
    prev: Mapped[str | None] = mapped_column(String(64))
    nodes: Mapped[bytes] = mapped_column(LargeBinary)
    recorded_at: Mapped[datetime]
    __table_args__ = (
        CheckConstraint("seq >= 1", name="place"),
        Index("ix_ledger_entry_enrolment_id", "enrolment_id", "seq"),
        Index("ix_ledger_entry_digest", "digest"),
        Index("ix_ledger_entry_kind", "kind", "seq"),
    )


class LedgerCheckpoint(Table):
    """A signed note of how long the ledger was and what its tree's root was then."""

    __tablename__ = "ledger_checkpoint"
    size: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    note: Mapped[str] = mapped_column(Text)
    issued_at: Mapped[datetime]


class AuditNode(Table):
    """The place of one audit event in the second tree, and the hashes it completed."""

    __tablename__ = "audit_node"
    place: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    event_id: Mapped[int] = mapped_column(ForeignKey("audit_event.id"), unique=True)
    nodes: Mapped[bytes] = mapped_column(LargeBinary)


class SigningKey(Table):
    """A person's Ed25519 key: the public half, and the private half wrapped by their secret.

    `cost` is passes, KiB and lanes of the argon2id that made the wrapping key. The key's id is
    half the SHA-256 of its public half. Of a key that only a phone holds, `device` is the
    phone's name and there is no private half; of a person's own key it is empty.
    """

    __tablename__ = "signing_key"
    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    person_id: Mapped[PersonId]
    public: Mapped[str] = mapped_column(String(64))
    salt: Mapped[bytes] = mapped_column(LargeBinary)
    cost: Mapped[str] = mapped_column(String(40))
    wrapped: Mapped[bytes] = mapped_column(LargeBinary)
    device: Mapped[str | None] = mapped_column(String(60))
    enrolled_at: Mapped[datetime]
    revoked_at: Mapped[datetime | None]


class EarlyStatement(Table):
    """What a record's signature covered before there was a ledger; read once, to adopt it."""

    __tablename__ = "early_statement"
    sequence: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    record_id: Mapped[str] = mapped_column(String(32))
    statement: Mapped[str] = mapped_column(Text)
    digest: Mapped[str] = mapped_column(String(64))


class CertifiedCopy(Table):
    """A certified copy as it was handed out: the signed portable file, compressed."""

    __tablename__ = "certified_copy"
    id: Mapped[Id]
    enrolment_id: Mapped[str] = mapped_column(
        String(32), ForeignKey("enrolment.id"), index=True
    )
    made_by: Mapped[str] = mapped_column(String(32), ForeignKey("person.id"))
    made_at: Mapped[datetime]
    seq: Mapped[int] = mapped_column(ForeignKey("ledger_entry.seq"))
    size: Mapped[int]
    sha256: Mapped[str] = mapped_column(String(64))
    content: Mapped[bytes] = mapped_column(LargeBinary)


class TrustedKey(Table):
    """Another school's verifier key that a chief instructor has compared and trusts."""

    __tablename__ = "trusted_key"
    id: Mapped[Id]
    fingerprint: Mapped[str] = mapped_column(String(80), unique=True)
    vkey: Mapped[str] = mapped_column(String(300))
    words: Mapped[str] = mapped_column(String(400))
    trusted_by: Mapped[str] = mapped_column(String(32), ForeignKey("person.id"))
    trusted_at: Mapped[datetime]


class ForeignRecord(Table):
    """A portable record from another school, kept as it came and never merged with ours."""

    __tablename__ = "foreign_record"
    id: Mapped[Id]
    enrolment_id: Mapped[str] = mapped_column(
        String(32), ForeignKey("enrolment.id"), index=True
    )
    origin: Mapped[str] = mapped_column(String(200))
    fingerprint: Mapped[str] = mapped_column(String(80))
    sha256: Mapped[str] = mapped_column(String(64))
    content: Mapped[bytes] = mapped_column(LargeBinary)
    verdict: Mapped[int]
    words: Mapped[str] = mapped_column(String(400))
    taken_by: Mapped[str] = mapped_column(String(32), ForeignKey("person.id"))
    taken_at: Mapped[datetime]
