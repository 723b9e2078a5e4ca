"""What phones delivered: one row for each letter of an outbox that was taken."""

from datetime import datetime

from sqlalchemy import ForeignKey, Index, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from gradebook.records.tables.columns import Table


class Delivery(Table):
    """A letter that was taken, and the answer it got: sent again, it gets the same one.

    `id` is the SHA-256 of whose it is and its key, `sha256` that of the bytes sent.
    `client_time` is the phone's clock when the words were written, `estimated_at` the
    server's own reckoning of that moment.
    """

    __tablename__ = "delivery"
    id: Mapped[str] = mapped_column(String(64), primary_key=True)
    person_id: Mapped[str] = mapped_column(String(32), ForeignKey("person.id"))
    record_id: Mapped[str] = mapped_column(String(32))
    sha256: Mapped[str] = mapped_column(String(64))
    status: Mapped[int]
    answer: Mapped[str] = mapped_column(Text)
    client_time: Mapped[datetime]
    received_at: Mapped[datetime]
    estimated_at: Mapped[datetime]
    __table_args__ = (Index("ix_delivery_received_at", "received_at"),)
