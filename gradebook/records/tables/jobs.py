"""Long work that somebody asked for."""

from datetime import datetime
from typing import Any

from sqlalchemy import CheckConstraint, String
from sqlalchemy.orm import Mapped, mapped_column

from gradebook.records.tables.columns import Id, PersonId, Table


class Job(Table):
    """One piece of long work: `asked`, and in the work's own transaction `done`; or `failed`.

    Whether somebody is at it, and how far, is not kept here but told by `headway`. `wanted`
    says what to work on, `outcome` what came of it, its words in the asker's language.
    """

    __tablename__ = "job"
    id: Mapped[Id]
    kind: Mapped[str] = mapped_column(String(20))
    asked_by: Mapped[PersonId]
    asked_at: Mapped[datetime]
    state: Mapped[str] = mapped_column(String(10), default="asked")
    ended_at: Mapped[datetime | None]
    wanted: Mapped[dict[str, Any]]
    outcome: Mapped[dict[str, Any]]
    __table_args__ = (
        CheckConstraint("state IN ('asked', 'done', 'failed')", name="state"),
        CheckConstraint("(state = 'asked') = (ended_at IS NULL)", name="ended"),
    )
