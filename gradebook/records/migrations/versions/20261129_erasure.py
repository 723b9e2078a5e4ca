"""Erasure: how long records are kept, what was asked to be erased, notices of erasures.

Revision 20261129_erasure, after 20261129_language.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

from gradebook.records.tables.columns import Moment

revision: str = "20261129_erasure"
down_revision: str | None = "20261129_language"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Five years for every school; two tables."""
    with op.batch_alter_table("school") as school:
        years = sa.Column("retention_years", sa.Integer(), nullable=False, server_default="5")
        school.add_column(years)
        school.create_check_constraint(op.f("ck_school_retention"), "retention_years >= 3")
    _requests()
    op.create_table(
        "erasure_notice",
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("entry", sa.Text(), nullable=False),
        sa.Column("statement", sa.Text(), nullable=False),
        sa.Column("taken_at", Moment(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_erasure_notice")),
    )


def _requests() -> None:
    name = "erasure_request"
    op.create_table(
        name,
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("person_id", sa.String(32), nullable=True),
        sa.Column("account", sa.Boolean(), nullable=False),
        sa.Column("entries", sa.Integer(), nullable=False),
        sa.Column("covers", sa.String(64), nullable=False),
        sa.Column("basis", sa.String(4000), nullable=False),
        sa.Column("early", sa.Boolean(), nullable=False),
        sa.Column("asked_by", sa.String(32), nullable=False),
        sa.Column("asked_at", Moment(timezone=True), nullable=False),
        sa.Column("asked_seq", sa.Integer(), nullable=False),
        sa.Column("decided_by", sa.String(32), nullable=True),
        sa.Column("decided_at", Moment(timezone=True), nullable=True),
        sa.Column("decided_seq", sa.Integer(), nullable=True),
        sa.Column("confirmed", sa.Boolean(), nullable=True),
        sa.Column("done_at", Moment(timezone=True), nullable=True),
        sa.Column("seq", sa.Integer(), nullable=True),
        sa.Column("swept_at", Moment(timezone=True), nullable=True),
        sa.CheckConstraint(
            "(decided_at IS NULL) = (confirmed IS NULL)", name=op.f(f"ck_{name}_decided")
        ),
        sa.CheckConstraint("(done_at IS NULL) = (seq IS NULL)", name=op.f(f"ck_{name}_done")),
        sa.CheckConstraint(
            "(done_at IS NULL) = (person_id IS NOT NULL)", name=op.f(f"ck_{name}_forgotten")
        ),
        sa.ForeignKeyConstraint(
            ["asked_by"], ["person.id"], name=op.f(f"fk_{name}_asked_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["decided_by"], ["person.id"], name=op.f(f"fk_{name}_decided_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{name}")),
    )


def downgrade() -> None:
    """Take all of it away; refused once something was erased, for only this explains it."""
    erased = "SELECT count(*) FROM ledger_entry WHERE kind = 'erased'"
    if op.get_bind().execute(sa.text(erased)).scalar():
        raise RuntimeError(
            "What was erased needs this schema to be told from what was altered."
        )
    op.drop_table("erasure_notice")
    op.drop_table("erasure_request")
    with op.batch_alter_table("school") as school:
        school.drop_constraint(op.f("ck_school_retention"), type_="check")
        school.drop_column("retention_years")
