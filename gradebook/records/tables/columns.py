"""What every table shares: the base class, column types and constraint names."""

import uuid
from datetime import UTC, datetime
from typing import Annotated, Any

from sqlalchemy import JSON, DateTime, Dialect, ForeignKey, MetaData, String, TypeDecorator
from sqlalchemy.orm import DeclarativeBase, mapped_column

CONSTRAINT_NAMES = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class Moment(TypeDecorator[datetime]):
    """An aware UTC moment, on SQLite too (which keeps no zone)."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Refuse a naive moment; store UTC."""
        del dialect
        if value is not None and value.tzinfo is None:
            raise ValueError("a moment needs its zone")
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:  # noqa: ANN401
        """Give the zone back."""
        del dialect
        if value is None:
            return None
        stored: datetime = value
        return stored.replace(tzinfo=UTC) if stored.tzinfo is None else stored.astimezone(UTC)


def new_id() -> str:
    """A fresh identifier nobody can guess: 32 hexadecimal digits."""
    return uuid.uuid4().hex


class Table(DeclarativeBase):
    """Base of all tables."""

    metadata = MetaData(naming_convention=CONSTRAINT_NAMES)
    type_annotation_map = {datetime: Moment, dict[str, Any]: JSON}  # noqa: RUF012 - SQLAlchemy's own form


Id = Annotated[str, mapped_column(String(32), primary_key=True, default=new_id)]
Code = Annotated[str, mapped_column(String(60))]
Words = Annotated[str, mapped_column(String(4000), default="")]
PersonId = Annotated[str, mapped_column(String(32), ForeignKey("person.id"), index=True)]
EnrolmentId = Annotated[str, mapped_column(String(32), ForeignKey("enrolment.id"), index=True)]
RecordId = Annotated[str, mapped_column(String(32), ForeignKey("lesson_record.id"), index=True)]
