"""The needle's parameters, what it believes of each student, and what it foretold.

Worked out from the records, so that all of it but the forecasts can be thrown away and rebuilt.
"""

from datetime import date, datetime

from sqlalchemy import JSON, CheckConstraint, ForeignKey, LargeBinary, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from gradebook.records.tables.columns import Code, Id, Table


class NeedleFit(Table):
    """One fitted set of parameters; the newest is in force. None: the published defaults."""

    __tablename__ = "needle_fit"
    id: Mapped[Id]
    made_at: Mapped[datetime]
    grades: Mapped[int]
    students: Mapped[int]
    parameters: Mapped[str] = mapped_column(Text)


class NeedleState(Table):
    """What is believed of one student after the lesson (`flown_on`, `sequence`).

    `numbers` as `Beliefs.as_bytes` writes them for the tasks named in `tasks`.
    """

    __tablename__ = "needle_state"
    enrolment_id: Mapped[str] = mapped_column(
        String(32), ForeignKey("enrolment.id"), primary_key=True
    )
    fit_id: Mapped[str | None] = mapped_column(String(32), ForeignKey("needle_fit.id"))
    flown_on: Mapped[date]
    sequence: Mapped[int]
    tasks: Mapped[list[str]] = mapped_column(JSON)
    numbers: Mapped[bytes] = mapped_column(LargeBinary)


class NeedleForecast(Table):
    """What was expected of one grade before its lesson: written once, never changed.

    `chance` for the instructor who graded, `neutral` for one of average severity with its 80 %
    interval `low` to `high`; all 0-1. Written with the record, or `later` for records that
    came from elsewhere or before the needle was there.
    """

    __tablename__ = "needle_forecast"
    record_id: Mapped[str] = mapped_column(
        String(32), ForeignKey("lesson_record.id"), primary_key=True
    )
    task: Mapped[Code] = mapped_column(primary_key=True)
    fit_id: Mapped[str | None] = mapped_column(String(32), ForeignKey("needle_fit.id"))
    chance: Mapped[float]
    neutral: Mapped[float]
    low: Mapped[float]
    high: Mapped[float]
    later: Mapped[bool]
    __table_args__ = (
        CheckConstraint("chance BETWEEN 0 AND 1 AND neutral BETWEEN 0 AND 1", name="chances"),
        CheckConstraint("0 <= low AND low <= high AND high <= 1", name="interval"),
    )
