"""Find the events of one action without reading the whole trail.

Revision 20261130_actions, after 20261129_jobs.
"""

from collections.abc import Sequence

from alembic import op

revision: str = "20261130_actions"
down_revision: str | None = "20261129_jobs"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the index."""
    op.create_index(
        op.f("ix_audit_event_action"), "audit_event", ["action", "id"], unique=False
    )


def downgrade() -> None:
    """Drop it; nothing that was written depends on it."""
    op.drop_index(op.f("ix_audit_event_action"), table_name="audit_event")
