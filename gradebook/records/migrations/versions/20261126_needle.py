"""The needle: parameters, beliefs and forecasts.

Revision 20261126_needle, after 20261125_begin.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

from gradebook.records.tables.columns import Moment

revision: str = "20261126_needle"
down_revision: str | None = "20261125_begin"
branch_labels: Sequence[str] | None = None
depends_on: Sequence[str] | None = None


def upgrade() -> None:
    """Add three tables; nothing there is changed."""
    op.create_table(
        "needle_fit",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("made_at", Moment(timezone=True), nullable=False),
        sa.Column("grades", sa.Integer(), nullable=False),
        sa.Column("students", sa.Integer(), nullable=False),
        sa.Column("parameters", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_needle_fit")),
    )
    op.create_table(
        "needle_state",
        sa.Column("enrolment_id", sa.String(length=32), nullable=False),
        sa.Column("fit_id", sa.String(length=32), nullable=True),
        sa.Column("flown_on", sa.Date(), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("tasks", sa.JSON(), nullable=False),
        sa.Column("numbers", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["enrolment_id"],
            ["enrolment.id"],
            name=op.f("fk_needle_state_enrolment_id_enrolment"),
        ),
        sa.ForeignKeyConstraint(
            ["fit_id"], ["needle_fit.id"], name=op.f("fk_needle_state_fit_id_needle_fit")
        ),
        sa.PrimaryKeyConstraint("enrolment_id", name=op.f("pk_needle_state")),
    )
    op.create_table(
        "needle_forecast",
        sa.Column("record_id", sa.String(length=32), nullable=False),
        sa.Column("task", sa.String(length=60), nullable=False),
        sa.Column("fit_id", sa.String(length=32), nullable=True),
        sa.Column("chance", sa.Double(), nullable=False),
        sa.Column("neutral", sa.Double(), nullable=False),
        sa.Column("low", sa.Double(), nullable=False),
        sa.Column("high", sa.Double(), nullable=False),
        sa.Column("later", sa.Boolean(), nullable=False),
        sa.CheckConstraint(
            "chance BETWEEN 0 AND 1 AND neutral BETWEEN 0 AND 1",
            name=op.f("ck_needle_forecast_chances"),
        ),
        sa.CheckConstraint(
            "0 <= low AND low <= high AND high <= 1", name=op.f("ck_needle_forecast_interval")
        ),
        sa.ForeignKeyConstraint(
            ["fit_id"], ["needle_fit.id"], name=op.f("fk_needle_forecast_fit_id_needle_fit")
        ),
        sa.ForeignKeyConstraint(
            ["record_id"],
            ["lesson_record.id"],
            name=op.f("fk_needle_forecast_record_id_lesson_record"),
        ),
        sa.PrimaryKeyConstraint("record_id", "task", name=op.f("pk_needle_forecast")),
    )


def downgrade() -> None:
    """Drop the three tables; what was foretold is lost, the records are not."""
    op.drop_table("needle_forecast")
    op.drop_table("needle_state")
    op.drop_table("needle_fit")
