"""The school's keys are found by the kind of their entries.

Revision 20261129_keys, after 20261129_asvs.
"""

from collections.abc import Sequence

from alembic import op

revision: str = "20261129_keys"
down_revision: str | None = "20261129_asvs"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None

NAME = "ix_ledger_entry_kind"


def upgrade() -> None:
    """Add the index."""
    op.create_index(NAME, "ledger_entry", ["kind", "seq"])


def downgrade() -> None:
    """Take it away."""
    op.drop_index(NAME, "ledger_entry")
