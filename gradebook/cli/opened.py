"""A school's database for the length of one command."""

from collections.abc import Iterator
from contextlib import contextmanager

from gradebook.records.database import Database, open_engine
from gradebook.settings import Settings


@contextmanager
def opened(settings: Settings) -> Iterator[Database]:
    """The school's database, every connection given back at the end."""
    engine = open_engine(settings.database)
    try:
        yield Database(engine)
    finally:
        engine.dispose()
