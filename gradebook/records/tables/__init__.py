"""The tables, one module a topic. Importing this package registers them all."""

from gradebook.records.tables import (
    audit,
    deliveries,
    erasures,
    jobs,
    ledger,
    lessons,
    needle,
    people,
    training,
)
from gradebook.records.tables.columns import Table

__all__ = [
    "Table", "audit", "deliveries", "erasures", "jobs", "ledger", "lessons", "needle", "people",
    "training",
]  # fmt: skip
