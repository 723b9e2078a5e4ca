"""Trust: the ledger, keys and second factors, certified copies.

Revision 20261127_trust, after 20261126_needle. What was signed before the ledger is set aside
in `early_statement`, from where `windtee upgrade` enters it in the ledger in its old order.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

from gradebook.records.tables.columns import Moment

revision: str = "20261127_trust"
down_revision: str | None = "20261126_needle"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None

loses = ("lesson_record.statement", "lesson_record.previous")
STATES = "'draft', 'signed', 'acknowledged', 'superseded'"


def upgrade() -> None:
    """Add tables and columns; lesson records lose the texts that the ledger now keeps."""
    _ledger()
    _accounts()
    _copies()
    op.execute(
        "INSERT INTO early_statement (sequence, record_id, statement, digest) "
        "SELECT sequence, id, statement, digest FROM lesson_record WHERE state <> 'draft'"
    )
    _lesson_record()
    _columns()


def _ledger() -> None:
    """The ledger, its checkpoints, the audit trail's tree, the keys that sign."""
    op.create_table(
        "ledger_entry",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("statement_id", sa.String(length=36), nullable=False),
        sa.Column("kind", sa.String(length=60), nullable=False),
        sa.Column("actor_id", sa.String(length=32), nullable=True),
        sa.Column("enrolment_id", sa.String(length=32), nullable=True),
        sa.Column("statement", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("entry", sa.Text(), nullable=False),
        sa.Column("leaf", sa.String(length=64), nullable=False),
        sa.Column("prev", sa.String(length=64), nullable=True),
        sa.Column("nodes", sa.LargeBinary(), nullable=False),
        sa.Column("recorded_at", Moment(timezone=True), nullable=False),
        sa.CheckConstraint("seq >= 1", name=op.f("ck_ledger_entry_place")),
        sa.ForeignKeyConstraint(
            ["actor_id"], ["person.id"], name=op.f("fk_ledger_entry_actor_id_person")
        ),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_ledger_entry")),
        sa.UniqueConstraint("statement_id", name=op.f("uq_ledger_entry_statement_id")),
    )
    op.create_index("ix_ledger_entry_digest", "ledger_entry", ["digest"], unique=False)
    op.create_index(
        "ix_ledger_entry_enrolment_id", "ledger_entry", ["enrolment_id", "seq"], unique=False
    )
    op.create_table(
        "ledger_checkpoint",
        sa.Column("size", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("issued_at", Moment(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("size", name=op.f("pk_ledger_checkpoint")),
    )
    op.create_table(
        "audit_node",
        sa.Column("place", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("event_id", sa.Integer(), nullable=False),
        sa.Column("nodes", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["event_id"], ["audit_event.id"], name=op.f("fk_audit_node_event_id_audit_event")
        ),
        sa.PrimaryKeyConstraint("place", name=op.f("pk_audit_node")),
        sa.UniqueConstraint("event_id", name=op.f("uq_audit_node_event_id")),
    )
    op.create_table(
        "signing_key",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("person_id", sa.String(length=32), nullable=False),
        sa.Column("public", sa.String(length=64), nullable=False),
        sa.Column("salt", sa.LargeBinary(), nullable=False),
        sa.Column("cost", sa.String(length=40), nullable=False),
        sa.Column("wrapped", sa.LargeBinary(), nullable=False),
        sa.Column("enrolled_at", Moment(timezone=True), nullable=False),
        sa.Column("revoked_at", Moment(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_signing_key_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_signing_key")),
    )
    op.create_index(
        op.f("ix_signing_key_person_id"), "signing_key", ["person_id"], unique=False
    )
    op.create_table(
        "early_statement",
        sa.Column("sequence", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("record_id", sa.String(length=32), nullable=False),
        sa.Column("statement", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("sequence", name=op.f("pk_early_statement")),
    )


def _accounts() -> None:
    """Second factors, invitations, requests for roles, known devices."""
    op.create_table(
        "role_request",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("person_id", sa.String(length=32), nullable=False),
        sa.Column("role", sa.String(length=60), nullable=False),
        sa.Column("asked_by", sa.String(length=32), nullable=True),
        sa.Column("asked_at", Moment(timezone=True), nullable=False),
        sa.Column("decided_by", sa.String(length=32), nullable=True),
        sa.Column("decided_at", Moment(timezone=True), nullable=True),
        sa.Column("confirmed", sa.Boolean(), nullable=True),
        sa.CheckConstraint(
            "role IN ('student', 'instructor', 'check instructor', 'chief instructor', 'administrator', 'auditor')",
            name=op.f("ck_role_request_role"),
        ),
        sa.CheckConstraint(
            "(decided_at IS NULL) = (confirmed IS NULL)", name=op.f("ck_role_request_decided")
        ),
        sa.ForeignKeyConstraint(
            ["asked_by"], ["person.id"], name=op.f("fk_role_request_asked_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["decided_by"], ["person.id"], name=op.f("fk_role_request_decided_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_role_request_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_role_request")),
    )
    op.create_index(
        op.f("ix_role_request_person_id"), "role_request", ["person_id"], unique=False
    )
    op.create_table(
        "second_factor",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("person_id", sa.String(length=32), nullable=False),
        sa.Column("kind", sa.String(length=60), nullable=False),
        sa.Column("label", sa.String(length=60), nullable=False),
        sa.Column("sealed", sa.LargeBinary(), nullable=False),
        sa.Column("credential", sa.String(length=1400), nullable=True),
        sa.Column("counter", sa.BigInteger(), nullable=False),
        sa.Column("created_at", Moment(timezone=True), nullable=False),
        sa.Column("used_at", Moment(timezone=True), nullable=True),
        sa.CheckConstraint("kind IN ('code', 'passkey')", name=op.f("ck_second_factor_kind")),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_second_factor_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_second_factor")),
        sa.UniqueConstraint("credential", name=op.f("uq_second_factor_credential")),
    )
    op.create_index(
        op.f("ix_second_factor_person_id"), "second_factor", ["person_id"], unique=False
    )
    op.create_table(
        "recovery_code",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("person_id", sa.String(length=32), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("made_at", Moment(timezone=True), nullable=False),
        sa.Column("used_at", Moment(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_recovery_code_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recovery_code")),
    )
    op.create_index(
        op.f("ix_recovery_code_person_id"), "recovery_code", ["person_id"], unique=False
    )
    op.create_table(
        "known_device",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("person_id", sa.String(length=32), nullable=False),
        sa.Column("created_at", Moment(timezone=True), nullable=False),
        sa.Column("seen_at", Moment(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_known_device_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_known_device")),
    )
    op.create_index(
        op.f("ix_known_device_person_id"), "known_device", ["person_id"], unique=False
    )
    op.create_table(
        "invitation",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("person_id", sa.String(length=32), nullable=False),
        sa.Column("purpose", sa.String(length=60), nullable=False),
        sa.Column("clears_factors", sa.Boolean(), nullable=False),
        sa.Column("made_by", sa.String(length=32), nullable=True),
        sa.Column("made_at", Moment(timezone=True), nullable=False),
        sa.Column("expires_at", Moment(timezone=True), nullable=False),
        sa.Column("confirmed_by", sa.String(length=32), nullable=True),
        sa.Column("used_at", Moment(timezone=True), nullable=True),
        sa.Column("withdrawn_at", Moment(timezone=True), nullable=True),
        sa.CheckConstraint("purpose IN ('join', 'reset')", name=op.f("ck_invitation_purpose")),
        sa.ForeignKeyConstraint(
            ["confirmed_by"], ["person.id"], name=op.f("fk_invitation_confirmed_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["made_by"], ["person.id"], name=op.f("fk_invitation_made_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_invitation_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_invitation")),
    )
    op.create_index(op.f("ix_invitation_person_id"), "invitation", ["person_id"], unique=False)


def _copies() -> None:
    """Certified copies, and portable records of other schools."""
    op.create_table(
        "certified_copy",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("enrolment_id", sa.String(length=32), nullable=False),
        sa.Column("made_by", sa.String(length=32), nullable=False),
        sa.Column("made_at", Moment(timezone=True), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["enrolment_id"],
            ["enrolment.id"],
            name=op.f("fk_certified_copy_enrolment_id_enrolment"),
        ),
        sa.ForeignKeyConstraint(
            ["made_by"], ["person.id"], name=op.f("fk_certified_copy_made_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["seq"], ["ledger_entry.seq"], name=op.f("fk_certified_copy_seq_ledger_entry")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_certified_copy")),
    )
    op.create_index(
        op.f("ix_certified_copy_enrolment_id"), "certified_copy", ["enrolment_id"], unique=False
    )
    op.create_table(
        "trusted_key",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("fingerprint", sa.String(length=80), nullable=False),
        sa.Column("vkey", sa.String(length=300), nullable=False),
        sa.Column("words", sa.String(length=400), nullable=False),
        sa.Column("trusted_by", sa.String(length=32), nullable=False),
        sa.Column("trusted_at", Moment(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["trusted_by"], ["person.id"], name=op.f("fk_trusted_key_trusted_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_trusted_key")),
        sa.UniqueConstraint("fingerprint", name=op.f("uq_trusted_key_fingerprint")),
    )
    op.create_table(
        "foreign_record",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("enrolment_id", sa.String(length=32), nullable=False),
        sa.Column("origin", sa.String(length=200), nullable=False),
        sa.Column("fingerprint", sa.String(length=80), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("verdict", sa.Integer(), nullable=False),
        sa.Column("words", sa.String(length=400), nullable=False),
        sa.Column("taken_by", sa.String(length=32), nullable=False),
        sa.Column("taken_at", Moment(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["enrolment_id"],
            ["enrolment.id"],
            name=op.f("fk_foreign_record_enrolment_id_enrolment"),
        ),
        sa.ForeignKeyConstraint(
            ["taken_by"], ["person.id"], name=op.f("fk_foreign_record_taken_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_foreign_record")),
    )
    op.create_index(
        op.f("ix_foreign_record_enrolment_id"), "foreign_record", ["enrolment_id"], unique=False
    )


def _lesson_record() -> None:
    """Let a record be void; its place in the ledger stands for its signature."""
    with op.batch_alter_table("lesson_record") as batch:
        for name in ("state", "signed"):
            batch.drop_constraint(op.f(f"ck_lesson_record_{name}"), type_="check")
        batch.add_column(sa.Column("voided_at", Moment(timezone=True), nullable=True))
        batch.add_column(
            sa.Column("void_reason", sa.String(length=4000), nullable=False, server_default="")
        )
        batch.drop_column("previous")
        batch.drop_column("statement")
        for name, words in {
            "state": f"state IN ({STATES}, 'void')",
            "signed": "(state = 'draft') = (digest IS NULL)",
            "placed": "(state = 'draft') = (sequence IS NULL)",
            "voided": "(state = 'void') = (voided_at IS NOT NULL)",
        }.items():
            batch.create_check_constraint(op.f(f"ck_lesson_record_{name}"), sa.text(words))


def _columns() -> None:
    """What sessions, the school and approvals have to remember besides."""
    for table, column in (
        ("login_session", sa.Column("second_at", Moment(timezone=True), nullable=True)),
        ("login_session", sa.Column("signed_at", Moment(timezone=True), nullable=True)),
        (
            "login_session",
            sa.Column("waits", sa.Boolean(), server_default=sa.false(), nullable=False),
        ),
        ("login_session", sa.Column("held_key", sa.LargeBinary(), nullable=True)),
        (
            "login_session",
            sa.Column("address", sa.String(length=60), nullable=False, server_default=""),
        ),
        (
            "login_session",
            sa.Column("agent", sa.String(length=120), nullable=False, server_default=""),
        ),
        ("login_session", sa.Column("challenge", sa.String(length=120), nullable=True)),
        (
            "school",
            sa.Column("origin", sa.String(length=120), nullable=False, server_default=""),
        ),
        ("school", sa.Column("vkey", sa.String(length=300), nullable=False, server_default="")),
        (
            "stage_approval",
            sa.Column(
                "not_independent", sa.Boolean(), server_default=sa.false(), nullable=False
            ),
        ),
    ):
        op.add_column(table, column)


def downgrade() -> None:
    """Back to records that carry their own text; the ledger and all keys are lost.

    Only what was signed before the ledger has such a text: any later record is refused.
    """
    signed = sa.text(
        "SELECT count(*) FROM lesson_record WHERE state <> 'draft'"
        " AND id NOT IN (SELECT record_id FROM early_statement)"
    )
    if op.get_bind().execute(signed).scalar():
        raise RuntimeError("Records signed in the ledger cannot be taken out of it.")
    for table, column in (
        ("stage_approval", "not_independent"),
        ("school", "vkey"),
        ("school", "origin"),
        *(("login_session", name) for name in LOGIN_COLUMNS),
    ):
        op.drop_column(table, column)
    _old_lesson_record()
    for name in TABLES:
        op.drop_table(name)


LOGIN_COLUMNS = (
    "challenge", "agent", "address", "held_key", "waits", "signed_at", "second_at",
)  # fmt: skip
TABLES = (
    "foreign_record", "trusted_key", "certified_copy", "invitation", "known_device",
    "recovery_code", "second_factor", "role_request", "early_statement", "signing_key",
    "audit_node", "ledger_checkpoint", "ledger_entry",
)  # fmt: skip


def _old_lesson_record() -> None:
    """The text and the digest before it, back on each record."""
    op.add_column("lesson_record", sa.Column("statement", sa.Text(), nullable=True))
    op.add_column("lesson_record", sa.Column("previous", sa.String(length=64), nullable=True))
    op.execute(
        "UPDATE lesson_record SET statement = (SELECT early.statement FROM early_statement"
        " AS early WHERE early.record_id = lesson_record.id), previous = (SELECT one.digest"
        " FROM early_statement AS one WHERE one.sequence = lesson_record.sequence - 1)"
        " WHERE state <> 'draft'"
    )
    with op.batch_alter_table("lesson_record") as batch:
        for name in ("state", "signed", "placed", "voided"):
            batch.drop_constraint(op.f(f"ck_lesson_record_{name}"), type_="check")
        batch.drop_column("voided_at")
        batch.drop_column("void_reason")
        for name, words in {
            "state": f"state IN ({STATES})",
            "signed": "(state = 'draft') = (statement IS NULL)",
        }.items():
            batch.create_check_constraint(op.f(f"ck_lesson_record_{name}"), sa.text(words))
