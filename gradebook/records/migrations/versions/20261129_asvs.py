"""Instructor certificates: how long each holds.

Revision 20261129_asvs, after 20261129_erasure.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "20261129_asvs"
down_revision: str | None = "20261129_erasure"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add the columns; nothing is known of any certificate yet."""
    term = sa.Column("certificate_term", sa.String(60), nullable=False, server_default="")
    op.add_column("person", term)
    op.add_column("person", sa.Column("certificate_until", sa.Date(), nullable=True))


def downgrade() -> None:
    """Forget how long certificates hold."""
    op.drop_column("person", "certificate_until")
    op.drop_column("person", "certificate_term")
