"""Phones: keys that only a phone holds, and what phones delivered.

Revision 20261128_phones, after 20261127_trust.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

from gradebook.records.tables.columns import Moment

revision: str = "20261128_phones"
down_revision: str | None = "20261127_trust"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Keys learn which phone holds them; deliveries get a table."""
    op.add_column("signing_key", sa.Column("device", sa.String(length=60), nullable=True))
    op.create_table(
        "delivery",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("person_id", sa.String(length=32), nullable=False),
        sa.Column("record_id", sa.String(length=32), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("status", sa.Integer(), nullable=False),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.Column("client_time", Moment(timezone=True), nullable=False),
        sa.Column("received_at", Moment(timezone=True), nullable=False),
        sa.Column("estimated_at", Moment(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_delivery_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_delivery")),
    )
    op.create_index("ix_delivery_received_at", "delivery", ["received_at"], unique=False)


def downgrade() -> None:
    """Take both away; refused while a phone's key is known, for the ledger names it."""
    phones = sa.text("SELECT count(*) FROM signing_key WHERE device IS NOT NULL")
    if op.get_bind().execute(phones).scalar():
        raise RuntimeError("Keys of phones cannot be taken out of the ledger.")
    op.drop_table("delivery")
    op.drop_column("signing_key", "device")
