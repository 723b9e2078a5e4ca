"""Long work: what was asked for, and what came of it.

Revision 20261129_jobs, after 20261129_keys.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

from gradebook.records.tables.columns import Moment

revision: str = "20261129_jobs"
down_revision: str | None = "20261129_keys"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "job",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("asked_by", sa.String(length=32), nullable=False),
        sa.Column("asked_at", Moment(timezone=True), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("ended_at", Moment(timezone=True), nullable=True),
        sa.Column("wanted", sa.JSON(), nullable=False),
        sa.Column("outcome", sa.JSON(), nullable=False),
        sa.CheckConstraint("state IN ('asked', 'done', 'failed')", name=op.f("ck_job_state")),
        sa.CheckConstraint("(state = 'asked') = (ended_at IS NULL)", name=op.f("ck_job_ended")),
        sa.ForeignKeyConstraint(
            ["asked_by"], ["person.id"], name=op.f("fk_job_asked_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
    )
    op.create_index(op.f("ix_job_asked_by"), "job", ["asked_by"], unique=False)


def downgrade() -> None:
    """Forget it; nothing that was written depends on it."""
    op.drop_table("job")
