"""Languages: the school's, and how each person wants words, dates and hours.

Revision 20261129_language, after 20261128_phones.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "20261129_language"
down_revision: str | None = "20261128_phones"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None

COLUMNS = (
    ("school", "language", "en"),
    ("person", "language", ""),
    ("person", "dates", "words"),
    ("person", "hours_style", ""),
)


def upgrade() -> None:
    """Add the columns; everybody begins with what their browser asks for."""
    for table, name, default in COLUMNS:
        column = sa.Column(name, sa.String(10), nullable=False, server_default=default)
        op.add_column(table, column)


def downgrade() -> None:
    """Forget what people chose."""
    for table, name, _ in reversed(COLUMNS):
        op.drop_column(table, name)
